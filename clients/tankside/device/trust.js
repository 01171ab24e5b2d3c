// What this device holds against the service: the log key that was pinned at first contact, and the
// newest checkpoint that was verified under it and proved to continue the one before.

import { equal } from "../agreement/bytes.js";
import { follow } from "../agreement/following.js";
import { consistent } from "../agreement/merkle.js";
import { isSignedBy, parseCheckpoint, parseVerifierKey, signatureOf, writeCheckpoint, writeVerifierKey } from "../agreement/note.js";
import { Broken, Trouble } from "./trouble.js";

/** @import { Seen } from "../agreement/event.js" */
/** @import { Checkpoint, SignedCheckpoint, VerifierKey } from "../agreement/note.js" */
/** @import { Store } from "./store.js" */

/** Names of the values. */
export const PINNED = "log-key";
export const SEEN = "checkpoint";

/** The pinned log key; null before first contact. @param {Store} store @returns {Promise<VerifierKey|null>} */
export async function pinned(store) {
  const text = await store.get("values", PINNED);
  return text === undefined ? null : parseVerifierKey(text);
}

/** Pins the log key at first contact; another one later is refused. @param {Store} store @param {string} text */
export async function pin(store, text) {
  const key = await parseVerifierKey(text.trim());
  const written = writeVerifierKey(key);
  const write = store.transaction("values", "readwrite");
  const known = await write.store.get(PINNED);
  if (known === undefined) await write.store.put(written, PINNED);
  await write.done;
  if (known !== undefined && known !== written) {
    throw new Broken("The service shows another log key than the one pinned on this device. Ask the registrar which is right before anything is sent.");
  }
  return key;
}

/** What a note says of the checkpoint seen (F5). @param {string|undefined} text @param {VerifierKey} key @returns {Seen|null} */
export function seenOf(text, key) {
  if (text === undefined) return null;
  const note = parseCheckpoint(text);
  const signature = signatureOf(note, key);
  return signature ? { size: note.checkpoint.size, root: note.checkpoint.root, signature } : null;
}

/** The newest checkpoint verified here. @param {Store} store @returns {Promise<Checkpoint|null>} */
export async function newest(store) {
  const text = await store.get("values", SEEN);
  return text === undefined ? null : parseCheckpoint(text).checkpoint;
}

/** Fetches a consistency proof between two sizes. @typedef {(older: number, newer: number) => Promise<Uint8Array[]>} Prover */

/**
 * Takes a checkpoint as the newest seen, once it is signed by the pinned key and proved consistent
 * with the one before. `given` is a proof that came along, from what a note said it had seen.
 * @param {Store} store @param {VerifierKey} key @param {SignedCheckpoint} note
 * @param {Prover} prove @param {{seen: Seen, proof: Uint8Array[]}|null} [given]
 */
export async function accept(store, key, note, prove, given = null) {
  if (!(await isSignedBy(note, key))) throw new Broken("A checkpoint is not signed by the log key that is pinned on this device. Call the registrar.");
  for (;;) {
    const before = await store.get("values", SEEN);
    const seen = before === undefined ? null : parseCheckpoint(before).checkpoint;
    if (seen) await checkConsistent(seen, note.checkpoint, prove, given);
    if (seen && seen.size >= note.checkpoint.size) return;
    if (await advance(store, before, writeCheckpoint(note))) return;
  }
}

/**
 * Goes on from the pinned key to the one that the service shows (F14): another window did so before, or
 * what the service tells of the change holds. Answers the key that is pinned then.
 * @param {Store} store @param {VerifierKey} key pinned @param {string} shown
 * @param {() => Promise<any>} ask for the change of key @param {Prover} prove
 * @returns {Promise<VerifierKey>}
 */
export async function goOn(store, key, shown, ask, prove) {
  const now = await pinned(store);
  if (now && writeVerifierKey(now) === shown) return now;
  let next;
  try {
    const { roots, ...change } = await ask();
    next = await follow(key, [...(Array.isArray(roots) ? roots : []), change]);
    if (writeVerifierKey(next.key) !== shown) throw new Error("it leads to another key than the service shows");
  } catch (error) {
    // Not reached, or busy: nothing is known yet. A service that tells of no change is another matter.
    if (error instanceof Trouble && error.problem !== "not-found") throw error;
    throw new Broken(`The service shows another log key than the one pinned on this device, and the change does not hold: ${/** @type {Error} */ (error).message}. Ask the registrar which is right before anything is sent.`);
  }
  await accept(store, key, next.checkpoint, prove);
  await repin(store, key, next.key);
  return next.key;
}

/** What is kept as seen bears a line of the new key too, or the pin stays. @param {Store} store @param {VerifierKey} from @param {VerifierKey} to */
async function repin(store, from, to) {
  const text = await store.get("values", SEEN);
  const signed = text !== undefined && (await isSignedBy(parseCheckpoint(text), to));
  const write = store.transaction("values", "readwrite");
  const moved = (await write.store.get(SEEN)) !== text || (await write.store.get(PINNED)) !== writeVerifierKey(from);
  if (signed && !moved) await write.store.put(writeVerifierKey(to), PINNED);
  await write.done;
  if (!signed || moved) throw new Trouble("This device goes on to the log's new key at the next checkpoint that both keys sign.");
}

/** @param {Checkpoint} seen @param {Checkpoint} shown @param {Prover} prove @param {{seen: Seen, proof: Uint8Array[]}|null} given */
async function checkConsistent(seen, shown, prove, given) {
  if (seen.size === shown.size) {
    if (equal(seen.root, shown.root)) return;
    throw new Broken(`The log has forked: for its first ${seen.size} notes this device verified another root than the service now shows. Keep this message and call the registrar.`);
  }
  const [older, newer] = seen.size < shown.size ? [seen, shown] : [shown, seen];
  const fits = given && older === seen && given.seen.size === older.size && equal(given.seen.root, older.root);
  const proof = fits ? given.proof : await prove(older.size, newer.size);
  if (await consistent(older, newer, proof)) return;
  throw new Broken(`The log's newer checkpoint is not proved to hold all notes of the older one (sizes ${older.size} and ${newer.size}). Keep this message and call the registrar.`);
}

/** Puts `to` in the place of `from`; false when another window moved it meanwhile. @param {Store} store @param {string|undefined} from @param {string} to */
async function advance(store, from, to) {
  const write = store.transaction("values", "readwrite");
  const now = await write.store.get(SEEN);
  if (now === from) await write.store.put(to, SEEN);
  await write.done;
  return now === from;
}
