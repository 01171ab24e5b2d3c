// A photo, taken or chosen. The note names two files by their hashes: the original as the camera
// made it, which stays where it is, and a smaller copy, which is what the service keeps. The copy is
// painted anew from the picture alone, so nothing that the camera wrote beside it, such as where it
// was taken, goes along.

import { hex, sha256 } from "../agreement/bytes.js";
import { keep } from "./files.js";
import { Trouble } from "./trouble.js";

/** @import { KeptPhoto } from "../contracts.js" */
/** @import { Store } from "./store.js" */

/** Longest side of a copy, in pixels: enough to see gill threads, small enough for poor Wi-Fi. */
const COPY_PX_MAX = 2048;
const COPY_QUALITY = 0.85;
/** Larger files are refused by the service, and by a tablet's memory. */
const ORIGINAL_BYTES_MAX = 64 * 1024 * 1024;

/**
 * @param {Store} store @param {Blob} original
 * @returns {Promise<KeptPhoto>}
 */
export async function keepPhoto(store, original) {
  if (original.size > ORIGINAL_BYTES_MAX) throw new Trouble("The photo is larger than 64 MB; take it with less resolution.");
  const bytes = new Uint8Array(await original.arrayBuffer());
  const copy = await copyOf(original);
  const taken_ms = original instanceof File ? original.lastModified : null;
  return { photo_sha256: hex(await sha256(bytes)), photo_copy_sha256: await keep(store, copy), taken_ms };
}

/** @param {Blob} original */
async function copyOf(original) {
  const picture = await createImageBitmap(original, { imageOrientation: "from-image" }).catch(() => {
    throw new Trouble("This file is no picture that the browser can show.");
  });
  const scale = Math.min(1, COPY_PX_MAX / Math.max(picture.width, picture.height));
  const canvas = new OffscreenCanvas(Math.round(picture.width * scale), Math.round(picture.height * scale));
  canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  return canvas.convertToBlob({ type: "image/jpeg", quality: COPY_QUALITY });
}
