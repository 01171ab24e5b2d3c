// A bundle read in the browser: a tar of text files, and the checks of it that a page can do with the
// agreement's own code. Each check names the command that repeats it off line. What only the
// verifier's program checks is said, not left out silently.

import { base64, equal, fromBase64Of32, fromUtf8, hex, sha256, utf8 } from "../../agreement/bytes.js";
import { open, withKeysOf } from "../../agreement/gate.js";
import { leafHash, rootOf } from "../../agreement/merkle.js";
import { fingerprint, isSignedBy, parseCheckpoint, parseVerifierKey } from "../../agreement/note.js";
import { parseLeaf } from "../../agreement/receipt.js";

/** @import { Leaf } from "../../agreement/receipt.js" */
/** @typedef {Map<string, Uint8Array>} Files by their names */

/**
 * @typedef {object} Check
 * @property {string} name
 * @property {"holds"|"broken"|"open"} state open: this page cannot say
 * @property {string} says
 * @property {string} command
 */

const BLOCK = 512;
const [VKEY, CHECKPOINT, LEAVES, ENVELOPES, SUMS] = ["log.vkey", "checkpoint", "leaves", "envelopes.ndjson", "SHA256SUMS"];

/** Reads a tar of plain files (POSIX ustar). @param {Uint8Array} bytes @returns {Files} */
export function untar(bytes) {
  /** @type {Files} */ const files = new Map();
  let at = 0;
  while (at + BLOCK <= bytes.length && bytes[at] !== 0) {
    const field = (/** @type {number} */ from, /** @type {number} */ length) => (fromUtf8(bytes.subarray(at + from, at + from + length)) ?? "").split("\0")[0] ?? "";
    const size = Number.parseInt(field(124, 12).trim(), 8);
    const name = [field(345, 155), field(0, 100)].filter((part) => part !== "").join("/").replace(/^\.\//, "");
    if (!Number.isInteger(size) || at + BLOCK + size > bytes.length) throw new Error(`the tar is cut short or damaged at byte ${at}`);
    if (["0", ""].includes(field(156, 1))) files.set(name, bytes.subarray(at + BLOCK, at + BLOCK + size));
    at += BLOCK + Math.ceil(size / BLOCK) * BLOCK;
  }
  if (files.size === 0) throw new Error("there is no file in the tar");
  return files;
}

/**
 * @param {Files} files
 * @param {string} trusted fingerprint of the log key that is pinned on this device; "" if none
 * @param {(done: number, all: number) => void} [progress]
 * @returns {Promise<{checks: Check[], size: number, vkey: string}>}
 */
export async function checkBundle(files, trusted, progress = () => {}) {
  const text = (/** @type {string} */ name) => fromUtf8(files.get(name) ?? new Uint8Array()) ?? "";
  const vkey = text(VKEY).trim();
  const command = `selachron-verify bundle --log-key ${vkey || "VKEY"}`;
  const leafTexts = text(LEAVES).split("\n\n").filter((leaf) => leaf !== "").map((leaf) => (leaf.endsWith("\n") ? leaf : `${leaf}\n`));
  const leaves = leafTexts.map(parseLeaf);
  const lines = text(ENVELOPES).split("\n").filter((line) => line !== "");
  const checks = [
    await sumsHold(files),
    await keyIsTrusted(vkey, trusted, command),
    await checkpointIsSigned(text(CHECKPOINT), vkey, command),
    await rootFollows(leafTexts, leaves, text(CHECKPOINT), command),
    await notesAreSigned(lines, leaves, progress, command),
    /** @type {Check} */ ({ name: "The rules of the record", state: "open", says: "Roles, required persons, versions, counts of each key, corrections on allowed notes, bodies withheld only with authority: the verifier's program replays them all. This page does not.", command }),
  ];
  return { checks, size: leaves.length, vkey };
}

/** @param {string} name @param {string} command @param {() => Promise<string>} work answers what holds; rejects with what does not @returns {Promise<Check>} */
async function check(name, command, work) {
  try {
    return { name, state: "holds", says: await work(), command };
  } catch (error) {
    return { name, state: "broken", says: error instanceof Error ? error.message : String(error), command };
  }
}

/** @param {Files} files */
const sumsHold = (files) =>
  check("Every file is whole", "cd bundle && sha256sum --check SHA256SUMS", async () => {
    const sums = (fromUtf8(files.get(SUMS) ?? new Uint8Array()) ?? "").split("\n").filter((line) => line !== "");
    const named = new Map(sums.map((line) => [line.slice(66), line.slice(0, 64)]));
    for (const [name, bytes] of files) {
      if (name === SUMS) continue;
      if (named.get(name) !== hex(await sha256(bytes))) throw new Error(`${name} is not the file that ${SUMS} names`);
    }
    const absent = [...named.keys()].find((name) => !files.has(name));
    if (absent) throw new Error(`${absent} is named in ${SUMS} and is not there`);
    return `${named.size} files are as ${SUMS} says.`;
  });

/** @param {string} vkey @param {string} trusted @param {string} command @returns {Promise<Check>} */
async function keyIsTrusted(vkey, trusted, command) {
  const name = "Signed by the log you know";
  if (!trusted) return { name, state: "open", says: "consistent with itself; not yet tied to a key you trust", command };
  return check(name, command, async () => {
    const print = await fingerprint(await parseVerifierKey(vkey));
    if (print !== trusted) throw new Error(`the bundle's log key has the fingerprint ${print}; this device pinned ${trusted}`);
    return `The log key is the one this device pinned at first contact, ${print}. Compare it with the registrar's.`;
  });
}

/** @param {string} note @param {string} vkey @param {string} command */
const checkpointIsSigned = (note, vkey, command) =>
  check("The checkpoint is signed", command, async () => {
    const signed = parseCheckpoint(note);
    if (!(await isSignedBy(signed, await parseVerifierKey(vkey)))) throw new Error("the checkpoint is not signed by the bundle's log key");
    return `The log vouches for ${signed.checkpoint.size} notes with the root ${base64(signed.checkpoint.root)}.`;
  });

/** @param {string[]} texts @param {(Leaf|null)[]} leaves @param {string} note @param {string} command */
const rootFollows = (texts, leaves, note, command) =>
  check("In the order they came, none taken away", command, async () => {
    const { checkpoint } = parseCheckpoint(note);
    const wrong = leaves.findIndex((leaf, at) => leaf?.seq !== at);
    if (wrong >= 0) throw new Error(`entry ${wrong} of ${LEAVES} is not the leaf of note ${wrong}`);
    if (leaves.length !== checkpoint.size) throw new Error(`the checkpoint covers ${checkpoint.size} notes; the bundle holds ${leaves.length}`);
    const root = await rootOf(await Promise.all(texts.map((text) => leafHash(utf8(text)))));
    if (!equal(root, checkpoint.root)) throw new Error(`the root over these ${leaves.length} notes is ${base64(root)}, not the one that was signed`);
    return `The root over all ${leaves.length} leaves is the one that was signed.`;
  });

/** @param {string[]} lines @param {(Leaf|null)[]} leaves @param {(done: number, all: number) => void} progress @param {string} command */
const notesAreSigned = (lines, leaves, progress, command) =>
  check("Every note is as it was signed", command, async () => {
    if (lines.length !== leaves.length) throw new Error(`${LEAVES} holds ${leaves.length} notes, ${ENVELOPES} holds ${lines.length}`);
    /** @type {any} */ let ring = new Map();
    /** @type {string|null} */ let origin = null;
    const ids = new Set();
    let withheld = 0;
    for (const [seq, line] of lines.entries()) {
      const leaf = /** @type {Leaf} */ (leaves[seq]);
      if (line.startsWith('{"withheld":')) {
        const said = fromBase64Of32(JSON.parse(line).withheld);
        if (!said || !equal(said, leaf.bodySha256)) throw new Error(`note ${seq}: what stands for the withheld body is not its leaf's hash`);
        withheld += 1;
        continue;
      }
      const { event, bodySha256, signatures } = await opened(line, seq, { origin, ring });
      if (!equal(bodySha256, leaf.bodySha256)) throw new Error(`note ${seq}: the body is not the one whose hash stands in its leaf`);
      if (JSON.stringify(signers(signatures)) !== JSON.stringify(signers(leaf.signatures))) throw new Error(`note ${seq}: its signatures are not those of its leaf`);
      if (ids.has(event.id)) throw new Error(`note ${seq}: its id ${event.id} was used before`);
      ids.add(event.id);
      origin ??= event.data.origin ?? null;
      ring = await withKeysOf(event, ring);
      if (seq % 50 === 0) progress(seq, lines.length);
    }
    return `${lines.length - withheld} bodies have the hash of their leaf, and every signature holds${withheld > 0 ? `; ${withheld} bodies are withheld, their places stand` : ""}.`;
  });

/** @param {string} line @param {number} seq @param {{origin: string|null, ring: any}} log */
async function opened(line, seq, log) {
  try {
    return await open(utf8(line), log);
  } catch (error) {
    throw new Error(`note ${seq}: ${error instanceof Error ? error.message : String(error)}`);
  }
}

/** @param {{keyid: string, sig: Uint8Array}[]} signatures */
const signers = (signatures) => signatures.map(({ keyid, sig }) => [keyid, base64(sig)]);
