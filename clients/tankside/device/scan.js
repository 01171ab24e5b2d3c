// Reads labels with the camera. Where the browser has a detector of its own that is used; else
// pictures go to a worker. Nothing that the camera sees is kept or sent.

import { Trouble } from "./trouble.js";

/** Pictures a second that are looked at: a hand holds a label longer than that. */
const LOOKS_PER_S = 5;
/** Width to which pictures are shrunk before they are looked at, in pixels. */
const LOOK_PX = 640;

/** Reads one picture. @typedef {(picture: ImageData) => Promise<string|null>} Reader */

/** @returns {Promise<{read: Reader, end: () => void}>} */
export async function reader() {
  const Detector = /** @type {any} */ (globalThis).BarcodeDetector;
  const formats = await Detector?.getSupportedFormats?.().catch(() => []);
  if (formats?.includes("qr_code")) {
    const detector = new Detector({ formats: ["qr_code"] });
    return { read: async (picture) => (await detector.detect(picture))[0]?.rawValue ?? null, end: () => {} };
  }
  const worker = new Worker("/device/scan-worker.js", { type: "module" });
  /** @type {Reader} */
  const read = (picture) =>
    new Promise((found, failed) => {
      worker.onmessage = ({ data }) => found(data);
      worker.onerror = () => failed(new Trouble("The reader of labels cannot start. Type the label instead."));
      worker.postMessage({ width: picture.width, height: picture.height, data: picture.data });
    });
  return { read, end: () => worker.terminate() };
}

/**
 * Shows the camera in `video` and calls `found` with the text of each label; answers how to stop.
 * @param {HTMLVideoElement} video @param {(text: string) => void} found
 * @returns {Promise<() => void>}
 */
export async function scan(video, found) {
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" }, audio: false }).catch(() => {
    throw new Trouble("The camera cannot be used here. Allow it in the browser, or type the label.");
  });
  const { read, end } = await reader();
  video.srcObject = stream;
  await video.play();
  let stopped = false;
  const look = async () => {
    if (stopped) return;
    const picture = pictureOf(video);
    const text = picture && (await read(picture));
    if (text && !stopped) found(text);
    setTimeout(look, 1000 / LOOKS_PER_S);
  };
  look();
  return () => {
    stopped = true;
    stream.getTracks().forEach((track) => track.stop());
    end();
  };
}

/** @param {HTMLVideoElement} video */
function pictureOf(video) {
  if (video.videoWidth === 0) return null;
  const width = Math.min(LOOK_PX, video.videoWidth);
  const height = Math.round((video.videoHeight * width) / video.videoWidth);
  const context = new OffscreenCanvas(width, height).getContext("2d", { willReadFrequently: true });
  context?.drawImage(video, 0, 0, width, height);
  return context?.getImageData(0, 0, width, height) ?? null;
}
