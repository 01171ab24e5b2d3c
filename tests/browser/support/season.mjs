// The invented season, played by the real `demo` and served on loopback, to be looked at.

import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { binaries } from "./house.mjs";

/** How long the season may take to be played. */
const PLAY_MS = 120_000;

/** Plays it; answers where it is served, and how to end it. */
export async function season() {
  const folder = mkdtempSync(join(tmpdir(), "selachron-season-"));
  const demo = spawn(join(binaries, "demo"), ["--port", "0", "--dir", join(folder, "season")], { stdio: ["ignore", "pipe", "ignore"] });
  const late = setTimeout(() => demo.kill(), PLAY_MS);
  const url = await new Promise((found, failed) => {
    createInterface({ input: demo.stdout }).on("line", (line) => {
      const [, address] = /the pages\s+(http:\/\/[0-9.:]+)\//.exec(line) ?? [];
      if (address !== undefined) found(address);
    });
    demo.once("exit", (code) => failed(new Error(`the demo ended with ${code}`)));
  });
  clearTimeout(late);
  const end = async () => {
    const ended = new Promise((done) => demo.once("exit", done));
    demo.kill("SIGTERM");
    await ended;
    rmSync(folder, { recursive: true, force: true });
  };
  return { url: /** @type {string} */ (url), end };
}
