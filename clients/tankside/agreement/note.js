// Signed notes of C2SP: verifier keys, checkpoints, and the lines that sign them (F16).

import { base64, concat, equal, fromBase64, fromBase64Of32, hex, sha256, utf8 } from "./bytes.js";
import { verify } from "./ed25519.js";
import { keyidOf } from "./names.js";

const ED25519 = 0x01;

/**
 * A key that verifies notes.
 * @typedef {object} VerifierKey
 * @property {string} name for a log key the log's origin
 * @property {Uint8Array} hash four bytes
 * @property {Uint8Array} publicKey 32 bytes
 */

/**
 * @typedef {object} Checkpoint
 * @property {string} origin
 * @property {number} size
 * @property {Uint8Array} root
 */

/**
 * @typedef {object} SignedCheckpoint
 * @property {Checkpoint} checkpoint
 * @property {{name: string, hash: Uint8Array, signature: Uint8Array}[]} signatures
 */

/** @param {string} name */
const nameFits = (name) => name !== "" && !/[+\s]/u.test(name);

/** @param {string} name @param {Uint8Array} publicKey */
async function keyHash(name, publicKey) {
  return (await sha256(concat(utf8(`${name}\n`), Uint8Array.of(ED25519), publicKey))).slice(0, 4);
}

/**
 * Reads `name+hash+base64(0x01 ‖ key)`.
 * @param {string} text
 * @returns {Promise<VerifierKey>}
 */
export async function parseVerifierKey(text) {
  const [name = "", hash, ...rest] = text.split("+");
  // Base64 may hold a plus itself.
  const bytes = fromBase64(rest.join("+"));
  if (hash === undefined || !nameFits(name) || !bytes) throw new Error("this is no verifier key of the form name+hash+key");
  if (bytes[0] !== ED25519 || bytes.length !== 33) throw new Error("the verifier key is not of Ed25519");
  const publicKey = bytes.slice(1);
  const expected = await keyHash(name, publicKey);
  if (hex(expected) !== hash) throw new Error(`the verifier key's hash is ${hash}, but its value gives ${hex(expected)}`);
  return { name, hash: expected, publicKey };
}

/** @param {VerifierKey} key */
export const writeVerifierKey = (key) => `${key.name}+${hex(key.hash)}+${base64(concat(Uint8Array.of(ED25519), key.publicKey))}`;

/** What people compare (SPEC, choice 35). @param {VerifierKey} key */
export const fingerprint = (key) => keyidOf(key.publicKey);

/** The text that is signed. @param {Checkpoint} checkpoint */
export const checkpointText = ({ origin, size, root }) => `${origin}\n${size}\n${base64(root)}\n`;

/** Reads `0` or `[1-9][0-9]*`, exactly. @param {string} text @returns {number|null} */
export function plainNumber(text) {
  const number = Number(text);
  return /^(?:0|[1-9][0-9]*)$/.test(text) && Number.isSafeInteger(number) ? number : null;
}

/** @param {string} text with its last line feed @returns {Checkpoint|null} */
export function parseCheckpointText(text) {
  const lines = text.split("\n");
  const [origin = "", sizeText = "", rootText = "", last] = lines;
  const [size, root] = [plainNumber(sizeText), fromBase64Of32(rootText)];
  if (lines.length !== 4 || last !== "" || !nameFits(origin) || size === null || !root) return null;
  return { origin, size, root };
}

/**
 * Reads a signed note whose text is a checkpoint.
 * @param {string} note
 * @returns {SignedCheckpoint}
 */
export function parseCheckpoint(note) {
  const cut = note.indexOf("\n\n");
  if (cut < 0) throw new Error("a note has an empty line before its signatures");
  const checkpoint = parseCheckpointText(note.slice(0, cut + 1));
  if (!checkpoint) throw new Error("the note's text is not a checkpoint of three lines");
  const lines = note.slice(cut + 2).split("\n");
  if (lines.pop() !== "" || lines.length === 0) throw new Error("the note does not end with a signature line and a line feed");
  return { checkpoint, signatures: lines.map(parseSignatureLine) };
}

/** @param {string} line */
function parseSignatureLine(line) {
  const [dash, name = "", value = "", more] = line.split(" ");
  const bytes = fromBase64(value);
  if (dash !== "\u2014" || more !== undefined || !nameFits(name) || !bytes || bytes.length <= 4) {
    throw new Error(`${JSON.stringify(line)} is not a signature line of a note`);
  }
  return { name, hash: bytes.slice(0, 4), signature: bytes.slice(4) };
}

/** @param {string} name @param {Uint8Array} signature with its four bytes of key id */
const signatureLine = (name, signature) => `\u2014 ${name} ${base64(signature)}\n`;

/** @param {SignedCheckpoint} note */
export function writeCheckpoint({ checkpoint, signatures }) {
  const lines = signatures.map(({ name, hash, signature }) => signatureLine(name, concat(hash, signature)));
  return `${checkpointText(checkpoint)}\n${lines.join("")}`;
}

/** The note that a device saw, from the parts that an event carries (F5). @param {Checkpoint} checkpoint @param {Uint8Array} signature */
export const seenNote = (checkpoint, signature) => `${checkpointText(checkpoint)}\n${signatureLine(checkpoint.origin, signature)}`;

/** @param {SignedCheckpoint} note @param {VerifierKey} key */
const linesOf = (note, key) => note.signatures.filter(({ name, hash }) => name === key.name && equal(hash, key.hash));

/**
 * Whether the log's key signed this checkpoint of this log.
 * @param {SignedCheckpoint} note @param {VerifierKey} key
 */
export async function isSignedBy(note, key) {
  const text = utf8(checkpointText(note.checkpoint));
  const checks = linesOf(note, key).map(({ signature }) => verify(key.publicKey, text, signature));
  return note.checkpoint.origin === key.name && (await Promise.all(checks)).includes(true);
}

/** The signature as an event carries it in `seensig`. @param {SignedCheckpoint} note @param {VerifierKey} key */
export function signatureOf(note, key) {
  const [line] = linesOf(note, key);
  return line ? concat(line.hash, line.signature) : null;
}
