// What can be judged of an envelope before its place in the log is known, in F7's order: form,
// source, signatures, times, and what the device says it saw. The rest of F7 needs the whole log.

import { fromBase64Of32, sha256 } from "./bytes.js";
import { readEnvelope, signedBytes } from "./envelope.js";
import { verify } from "./ed25519.js";
import { isLate, parseEvent } from "./event.js";
import { CLOCK_SKEW_MS } from "./limits.js";
import { isKeyid, keyidOf } from "./names.js";
import { isSignedBy, parseCheckpoint, seenNote } from "./note.js";
import { Refusal } from "./refusal.js";

/** @import { Envelope } from "./envelope.js" */
/** @import { Event, Seen } from "./event.js" */
/** @import { VerifierKey } from "./note.js" */

/** Every key ever known to a log: keyid → public key. @typedef {Map<string, Uint8Array>} KeyRing */

/**
 * @typedef {object} Opened
 * @property {Event} event
 * @property {Uint8Array} body
 * @property {Uint8Array} bodySha256
 * @property {{keyid: string, sig: Uint8Array}[]} signatures by the keys that verified, ascending
 */

/**
 * Opens an envelope, or rejects with the first rule that fails.
 * @param {Uint8Array} bytes
 * @param {{origin: string|null, ring: KeyRing}} log origin null: before the founding, which itself says where it belongs
 * @returns {Promise<Opened>}
 */
export async function open(bytes, log) {
  const envelope = readEnvelope(bytes);
  const event = parseEvent(envelope.body);
  const origin = log.origin ?? event.data.origin;
  if (event.source !== `https://${origin}`) {
    throw new Refusal("wrong-log", `the note was written for ${event.source}; this log is https://${origin}`, "/source");
  }
  const signatures = await signersOf(envelope, event, await withKeysOf(event, log.ring));
  return { event, body: envelope.body, bodySha256: await sha256(envelope.body), signatures };
}

/** The ring and the keys that a founding or enrolling body itself brings. @param {Event} event @param {KeyRing} ring */
export async function withKeysOf(event, ring) {
  const more = new Map(ring);
  for (const publicKey of broughtKeys(event)) more.set(await keyidOf(publicKey), publicKey);
  return more;
}

/** @param {Event} event @returns {Uint8Array[]} */
function broughtKeys({ type, data }) {
  const read = (/** @type {any} */ holder) => (typeof holder?.public_key === "string" ? fromBase64Of32(holder.public_key) : null);
  const holders = type === "key.enrolled.v1" ? [data] : ["collection.founded.v1", "root.replaced.v1"].includes(type) ? data.root_keys : [];
  return (Array.isArray(holders) ? holders : []).map(read).filter((key) => key !== null);
}

/** @param {Envelope} envelope @param {Event} event @param {KeyRing} ring */
async function signersOf(envelope, event, ring) {
  const message = signedBytes(envelope.body);
  /** @type {{keyid: string, sig: Uint8Array}[]} */
  const found = [];
  for (const { keyid: hint, sig } of envelope.signatures) {
    const keyid = await signerOf(message, hint, sig, ring, event.keyid);
    if (found.some((other) => other.keyid === keyid)) throw new Refusal("envelope-malformed", `the key ${keyid} signed twice; one signature a key`);
    found.push({ keyid, sig });
  }
  if (!found.some(({ keyid }) => keyid === event.keyid)) {
    throw new Refusal("author-signature-missing", `no signature by the key ${event.keyid} that the body names as its author`, "/keyid");
  }
  return found.sort((a, b) => (a.keyid < b.keyid ? -1 : 1));
}

/**
 * The key under which a signature verifies: the hinted one first, then the author's, then all.
 * @param {Uint8Array} message @param {string|null} hint @param {Uint8Array} sig @param {KeyRing} ring @param {string} author
 */
async function signerOf(message, hint, sig, ring, author) {
  for (const keyid of new Set([hint ?? "", author, ...ring.keys()])) {
    const key = ring.get(keyid);
    if (key && (await verify(key, message, sig))) return keyid;
  }
  if (hint !== null && isKeyid(hint) && !ring.has(hint)) throw new Refusal("signer-unknown", `the key ${hint} is not enrolled in this log`);
  throw new Refusal("signature-invalid", "a signature verifies under no key of this log");
}

/**
 * The rules of time (F5, F16): what happened later than now, and what was written afterwards
 * without saying so.
 * @param {Event} event @param {number} recorded_ms
 */
export function checkTimes(event, recorded_ms) {
  if (event.time_ms > recorded_ms + CLOCK_SKEW_MS) throw new Refusal("time-in-future", "time lies in the future by the log's clock", "/time");
  const said = event.late === true && event.latereason !== null && event.latereason !== "";
  const silent = event.late === null && event.latereason === null;
  if (said || (silent && !isLate(event.time_ms, event.signedtime_ms))) return;
  throw new Refusal("late-without-reason", "late is true or absent, latereason is there exactly with it, and a note written afterwards has both", "/late");
}

/**
 * Whether the log's key signed what the device says it saw (F13).
 * @param {Seen} seen @param {VerifierKey} key
 */
export async function checkSeen(seen, key) {
  const note = seenNote({ origin: key.name, size: seen.size, root: seen.root }, seen.signature);
  let holds = false;
  try {
    holds = await isSignedBy(parseCheckpoint(note), key);
  } catch {
    // Too short to be a signature at all.
  }
  if (!holds) throw new Refusal("seen-signature-invalid", "seensig is no signature of this log over the checkpoint named", "/seensig");
}
