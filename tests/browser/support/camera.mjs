// A camera for a journey: Chromium plays a film in place of one. The film is a label's code, drawn
// with the pages' own encoder, a little off the middle, on paper, under uneven light.

import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { chromium } from "@playwright/test";
import { watch } from "./pages.mjs";

const [WIDTH, HEIGHT, FRAMES, FRAMES_A_SECOND] = [640, 480, 10, 10];

/**
 * Writes a film in YUV4MPEG2 that shows the code of `text`.
 * @param {string} path @param {string} text
 */
async function film(path, text) {
  const { default: encode } = await import(/** @type {any} */ ("../../../clients/tankside/vendor/qr/index.js"));
  const rows = /** @type {boolean[][]} */ (encode(text, "raw", { ecc: "medium", border: 4 }));
  const scale = Math.floor((HEIGHT * 0.8) / rows.length);
  const [left, top] = [Math.floor((WIDTH - scale * rows.length) / 2) + 21, Math.floor((HEIGHT - scale * rows.length) / 2) - 9];
  const luma = Buffer.alloc(WIDTH * HEIGHT);
  for (let y = 0; y < HEIGHT; y += 1) {
    for (let x = 0; x < WIDTH; x += 1) {
      const module = rows[Math.floor((y - top) / scale)]?.[Math.floor((x - left) / scale)];
      const light = 25 * Math.sin(x / 90) + 15 * Math.cos(y / 70);
      luma[y * WIDTH + x] = Math.round((module === undefined ? 120 : module ? 45 : 195) + light);
    }
  }
  const chroma = Buffer.alloc((WIDTH * HEIGHT) / 2, 128);
  const frame = Buffer.concat([Buffer.from("FRAME\n"), luma, chroma]);
  writeFileSync(path, Buffer.concat([Buffer.from(`YUV4MPEG2 W${WIDTH} H${HEIGHT} F${FRAMES_A_SECOND}:1 Ip A1:1 C420\n`), ...Array.from({ length: FRAMES }, () => frame)]));
}

/** What Chromium is told so that the film is its camera. @param {string} path */
const cameraArgs = (path) => ["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", `--use-file-for-fake-video-capture=${path}`];

/** A browser whose camera sees what `shows` puts before it. @param {import("./house.mjs").House} house @param {import("@playwright/test").LaunchOptions} launchOptions */
export async function withCamera(house, { args = [], ...options }) {
  const path = join(house.folder, "camera.y4m");
  const shows = (/** @type {string} */ text) => film(path, text);
  await shows("nothing yet");
  const browser = await chromium.launch({ ...options, args: [...args, ...cameraArgs(path)] });
  const context = await browser.newContext({ baseURL: house.url, viewport: { width: 800, height: 1280 } });
  return { browser, context, faults: watch(context, house), page: await context.newPage(), shows };
}
