// Following the log to its next key (F14), by whoever has pinned the one before. The pinned key vouches
// that the notes shown stand in its log; that they may change the key is checked by the signatures of
// the root keys themselves, from the founding on (F10).

import { equal, fromBase64Of32, sha256, utf8 } from "./bytes.js";
import { readEnvelope, signedBytes } from "./envelope.js";
import { verify } from "./ed25519.js";
import { parseEvent } from "./event.js";
import { isPerson, keyidOf } from "./names.js";
import { isSignedBy, parseVerifierKey, writeCheckpoint, writeVerifierKey } from "./note.js";
import { parseReceipt, receiptFault } from "./receipt.js";

/** @import { Envelope } from "./envelope.js" */
/** @import { Event } from "./event.js" */
/** @import { SignedCheckpoint, VerifierKey } from "./note.js" */
/** @import { Receipt } from "./receipt.js" */

/** A note with its receipt, as the service shows it. @typedef {{envelope: string, receipt: string}} Shown */
/** @typedef {{envelope: Envelope, event: Event, receipt: Receipt}} Read */
/** Root keys in force. @typedef {{keys: {keyid: string, publicKey: Uint8Array, person: string}[], threshold: number}} Roots */

/** @param {boolean} holds @param {string} otherwise */
function must(holds, otherwise) {
  if (!holds) throw new Error(otherwise);
}

/**
 * Checks a change of key: the founding, every replacement of the root keys, and the `log.rekeyed`, in
 * the order of the log. Answers the next key, and the checkpoint under which all of it stands, signed by
 * both keys.
 * @param {VerifierKey} pinned @param {Shown[]} shown
 * @returns {Promise<{key: VerifierKey, checkpoint: SignedCheckpoint}>}
 */
export async function follow(pinned, shown) {
  const notes = await Promise.all(shown.map((one) => read(pinned, one)));
  const [founding, change] = [notes[0], notes.at(-1)];
  if (!founding || !change || notes.length < 2) throw new Error("the founding and the change of key are both needed");
  checkOrder(notes);
  let roots = await founded(pinned, founding);
  for (const note of notes.slice(1, -1)) {
    await checkSigned(roots, note, "root.replaced.v1");
    roots = await rootsIn(note.event.data);
  }
  await checkSigned(roots, change, "log.rekeyed.v1");
  const key = await parseVerifierKey(String(change.event.data.log_vkey));
  const { checkpoint } = change.receipt;
  must(key.name === pinned.name && writeVerifierKey(key) !== writeVerifierKey(pinned), `the change leads to no other key of ${pinned.name}`);
  must(await isSignedBy(checkpoint, key), "the new key has not signed the checkpoint that holds the change");
  return { key, checkpoint };
}

/** @param {VerifierKey} pinned @param {Shown} shown @returns {Promise<Read>} */
async function read(pinned, shown) {
  const receipt = parseReceipt(shown.receipt);
  const fault = await receiptFault(receipt, pinned);
  must(fault === null, fault ?? "");
  const envelope = readEnvelope(utf8(shown.envelope));
  must(equal(await sha256(envelope.body), receipt.leaf.bodySha256), `the receipt of the note at ${receipt.leaf.seq} is of another note`);
  return { envelope, event: parseEvent(envelope.body), receipt };
}

/** All stand in one tree, each after the one before. @param {Read[]} notes */
function checkOrder(notes) {
  const fits = notes.every(({ receipt }, at) => {
    const before = notes[at - 1]?.receipt;
    return !before || (before.leaf.seq < receipt.leaf.seq && writeCheckpoint(before.checkpoint) === writeCheckpoint(receipt.checkpoint));
  });
  must(fits, "the notes shown are not in the order of one log");
}

/** @param {VerifierKey} pinned @param {Read} founding */
async function founded(pinned, { event, envelope, receipt }) {
  const founds = event.type === "collection.founded.v1" && receipt.leaf.seq === 0 && event.data.origin === pinned.name;
  must(founds, `the first note shown does not found ${pinned.name}`);
  const roots = await rootsIn(event.data);
  must((await signing(roots, envelope)).length === roots.keys.length, "the founding is not signed by all its root keys");
  return roots;
}

/** @param {Record<string, any>} data @returns {Promise<Roots>} */
async function rootsIn({ root_keys, root_threshold }) {
  const listed = Array.isArray(root_keys) ? root_keys : [];
  const keys = await Promise.all(listed.map(async (/** @type {any} */ item) => {
    const publicKey = fromBase64Of32(String(item?.public_key));
    must(publicKey !== null && isPerson(String(item?.person)), "a root key cannot be read");
    return { keyid: await keyidOf(/** @type {Uint8Array} */ (publicKey)), publicKey: /** @type {Uint8Array} */ (publicKey), person: String(item.person) };
  }));
  const different = new Set(keys.map(({ keyid }) => keyid)).size === keys.length && new Set(keys.map(({ person }) => person)).size === keys.length;
  const threshold = Number(root_threshold);
  must(different && Number.isInteger(threshold) && threshold >= 2 && threshold <= keys.length, "the root keys or their threshold cannot be");
  return { keys, threshold };
}

/** Root keys that signed. What else signed says nothing here. @param {Roots} roots @param {Envelope} envelope */
async function signing({ keys }, envelope) {
  const message = signedBytes(envelope.body);
  const signs = await Promise.all(keys.map(async ({ publicKey }) => {
    const checks = await Promise.all(envelope.signatures.map(({ sig }) => verify(publicKey, message, sig)));
    return checks.includes(true);
  }));
  return keys.filter((_, at) => signs[at]);
}

/** That a note is of that kind, by a root key and by as many root persons as must sign. @param {Roots} roots @param {Read} note @param {string} type */
async function checkSigned(roots, { event, envelope, receipt }, type) {
  must(event.type === type, `${event.type} stands where ${type} is wanted`);
  const signed = await signing(roots, envelope);
  const holds = signed.some(({ keyid }) => keyid === event.keyid) && signed.length >= roots.threshold;
  must(holds, `${type} at ${receipt.leaf.seq} needs the signatures of ${roots.threshold} root persons, its author among them`);
}
