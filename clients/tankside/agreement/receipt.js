// Leaves (F15), and the receipt that a device keeps: a C2SP `tlog-proof@v1` whose extra line is
// the leaf (F17).

import { base64, fromBase64, fromBase64Of32, fromUtf8, utf8 } from "./bytes.js";
import { SIGNATURES_MAX } from "./limits.js";
import { includes, leafHash } from "./merkle.js";
import { isKeyid } from "./names.js";
import { isSignedBy, parseCheckpoint, plainNumber } from "./note.js";
import { parseRecorded, utcText } from "./time.js";

/** @import { SignedCheckpoint, VerifierKey } from "./note.js" */

/**
 * What the tree holds of a note: nothing of its content.
 * @typedef {object} Leaf
 * @property {number} seq
 * @property {number} recorded_ms
 * @property {number} subjectVersion
 * @property {Uint8Array} bodySha256
 * @property {{keyid: string, sig: Uint8Array}[]} signatures ascending by keyid
 */

/**
 * @typedef {object} Receipt
 * @property {string} leafText
 * @property {Leaf} leaf
 * @property {Uint8Array[]} proof
 * @property {SignedCheckpoint} checkpoint
 */

const LEAF_HEAD = "selachron-leaf/v1";
const PROOF_HEAD = "c2sp.org/tlog-proof@v1";

/** @param {Leaf} leaf */
export function writeLeaf(leaf) {
  const lines = leaf.signatures.map(({ keyid, sig }) => `sig ${keyid} ${base64(sig)}\n`);
  return `${LEAF_HEAD}\n${leaf.seq}\n${utcText(leaf.recorded_ms)}\n${leaf.subjectVersion}\n${base64(leaf.bodySha256)}\n${lines.join("")}`;
}

/** Reads the one form that a leaf has. @param {string} text @returns {Leaf|null} */
export function parseLeaf(text) {
  const lines = text.split("\n");
  const [head, seqText = "", recorded = "", version = "", hash = ""] = lines;
  if (head !== LEAF_HEAD || lines.pop() !== "") return null;
  const [seq, recorded_ms, subjectVersion, bodySha256] = [plainNumber(seqText), parseRecorded(recorded), plainNumber(version), fromBase64Of32(hash)];
  const signatures = lines.slice(5).map(parseSignature);
  if (seq === null || recorded_ms === null || !subjectVersion || !bodySha256 || !areInOrder(signatures)) return null;
  return { seq, recorded_ms, subjectVersion, bodySha256, signatures };
}

/** @param {string} line */
function parseSignature(line) {
  const [word, keyid = "", value = "", more] = line.split(" ");
  const sig = fromBase64(value);
  return word === "sig" && more === undefined && isKeyid(keyid) && sig?.length === 64 ? { keyid, sig } : null;
}

/**
 * @param {({keyid: string, sig: Uint8Array}|null)[]} signatures
 * @returns {signatures is {keyid: string, sig: Uint8Array}[]}
 */
function areInOrder(signatures) {
  const ascending = signatures.every((one, at) => one && (at === 0 || (signatures[at - 1]?.keyid ?? "") < one.keyid));
  return ascending && signatures.length >= 1 && signatures.length <= SIGNATURES_MAX;
}

/** @param {string} text @returns {Receipt} */
export function parseReceipt(text) {
  const cut = text.indexOf("\n\n");
  if (cut < 0) throw new Error("a receipt has an empty line before its checkpoint");
  const [head, extra = "", index = "", ...hashes] = text.slice(0, cut).split("\n");
  if (head !== PROOF_HEAD) throw new Error(`a receipt begins with ${PROOF_HEAD}`);
  const bytes = extra.startsWith("extra ") ? fromBase64(extra.slice("extra ".length)) : null;
  const leafText = bytes && fromUtf8(bytes);
  const leaf = leafText === null ? null : parseLeaf(leafText);
  if (!leaf || leafText === null) throw new Error("the receipt's extra line is not a leaf");
  if (index !== `index ${leaf.seq}`) throw new Error("the receipt's index is not its leaf's");
  const proof = hashes.map((hash) => {
    const read = fromBase64Of32(hash);
    if (!read) throw new Error("a hash of the receipt's proof is not base64 of 32 bytes");
    return read;
  });
  return { leafText, leaf, proof, checkpoint: parseCheckpoint(text.slice(cut + 2)) };
}

/**
 * Why a receipt does not hold; null when the checkpoint is signed by `key` and the leaf stands in
 * its tree.
 * @param {Receipt} receipt @param {VerifierKey} key
 */
export async function receiptFault(receipt, key) {
  if (!(await isSignedBy(receipt.checkpoint, key))) return "the receipt's checkpoint is not signed by the log key that is pinned here";
  const hash = await leafHash(utf8(receipt.leafText));
  if (!(await includes(receipt.checkpoint.checkpoint, receipt.leaf.seq, hash, receipt.proof))) {
    return "the receipt's proof does not lead from its leaf to its checkpoint";
  }
  return null;
}
