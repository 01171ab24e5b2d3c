// Answers of the service, kept for when it is away. What a screen shows is the newest answer that
// this device has, with when it was answered; a round works from it off line.

import { equal, fromBase64Of32 } from "../agreement/bytes.js";
import { now_ms } from "./clock.js";
import { askJson } from "./service.js";
import { Broken } from "./trouble.js";
import * as trust from "./trust.js";

/** @import { ReadingRow, Store } from "./store.js" */
/** @import { Reader } from "./service.js" */

/** Most pages of one list that are asked for. */
const PAGES_MAX = 100;
/** Answers older than this are forgotten when the device starts. */
const KEEP_MS = 30 * 24 * 3_600_000;

/**
 * Asks and keeps.
 * @param {Store} store @param {string} path @param {Reader|null} reader
 * @returns {Promise<ReadingRow>}
 */
export async function ask(store, path, reader) {
  // What was seen is read before the question is asked: another window may go ahead meanwhile.
  const seen = await trust.newest(store);
  const body = await askWhole(path, reader);
  checkHead(path, body, seen);
  const row = { path, body, when_ms: now_ms() };
  const write = store.transaction("readings", "readwrite");
  const newest_row = newer(row, await write.store.get(path));
  if (newest_row === row) await write.store.put(row);
  await write.done;
  return newest_row;
}

/**
 * The whole of a list, page after page; later pages are answered from the clocks of the first.
 * @param {string} path @param {Reader|null} reader
 */
async function askWhole(path, reader) {
  const { next, ...body } = await askJson(path, reader);
  const asked = (/** @type {string} */ cursor) => askJson(`${path}${path.includes("?") ? "&" : "?"}cursor=${cursor}`, reader);
  for (let [cursor, pages] = [next, 1]; cursor !== undefined && pages < PAGES_MAX; pages += 1) {
    const page = await asked(cursor);
    body.items = [...body.items, ...page.items];
    cursor = page.next;
  }
  return body;
}

/**
 * Of two answers the one that tells of more notes: two questions may be on their way at once, and
 * the older answer may arrive last.
 * @template {{body: any}} T
 * @param {T} row that has just arrived @param {T|undefined} held @returns {T}
 */
export const newer = (row, held) => (held && held.body?.known_at > row.body?.known_at ? held : row);

/**
 * An answer must not show another root for a size that was verified here, nor less than was seen.
 * @param {string} path @param {any} body @param {{size: number, root: Uint8Array}|null} seen
 */
export function checkHead(path, body, seen) {
  const root = typeof body?.root === "string" ? fromBase64Of32(body.root) : null;
  if (!seen || !root || typeof body.known_at !== "number") return;
  if (body.known_at === seen.size && !equal(root, seen.root)) throw new Broken(`The log has forked: an answer shows another root for ${seen.size} notes than this device verified. Call the registrar.`);
  const asksForNewest = !/[?&](?:known_at|cursor)=/.test(path);
  if (asksForNewest && body.known_at < seen.size) throw new Broken(`The log has lost notes: this device has verified ${seen.size}, the service now answers from ${body.known_at}. Call the registrar.`);
}

/** All that is kept, and the oldest thrown away. @param {Store} store */
export async function kept(store) {
  const rows = await store.getAll("readings");
  const old = rows.filter(({ when_ms }) => now_ms() - when_ms > KEEP_MS);
  await Promise.all(old.map(({ path }) => store.delete("readings", path)));
  return rows.filter((row) => !old.includes(row));
}
