// The proof, made in the page: what a bundle of the whole record (F25) shows under a key that this
// device has pinned. Each check says in words what it looked at and carries the command that makes
// it again off line. Roles, thresholds and approvals are not asked here: the verifier does that, and
// the last check says so.

import { base64, equal, fromBase64Of32, fromUtf8, hex, sha256, utf8 } from "./bytes.js";
import { writeEnvelope } from "./envelope.js";
import { checkSeen, open, withKeysOf } from "./gate.js";
import { leafHash, rootOf } from "./merkle.js";
import { fingerprint, isSignedBy, parseCheckpoint, parseVerifierKey, writeCheckpoint, writeVerifierKey } from "./note.js";
import { parseLeaf, writeLeaf } from "./receipt.js";
import { utcText } from "./time.js";

/** @import { Checkpoint, SignedCheckpoint, VerifierKey } from "./note.js" */
/** @import { Seen } from "./event.js" */
/** @import { Opened } from "./gate.js" */
/** @import { Leaf, Receipt } from "./receipt.js" */

/**
 * @typedef {object} Check
 * @property {string} name in a few words
 * @property {"holds"|"broken"|"not here"} outcome "not here": this page does not make that check
 * @property {string} detail one sentence; of a broken one, where
 * @property {string} command what makes it again off line, in the bundle's folder
 */

/**
 * @typedef {object} Audit
 * @property {boolean} holds no check is broken
 * @property {string} sentence what it shows, first
 * @property {number} size
 * @property {Check[]} checks
 */

/**
 * What this device holds against the bundle.
 * @typedef {object} Held
 * @property {VerifierKey} logKey pinned here
 * @property {Checkpoint|null} seen the newest checkpoint that was verified here
 * @property {Receipt[]} receipts
 */

const SHOWS = "Every note is as it was signed, in the order it came, and none has been taken away since the checkpoint. It does not show that a note is true, nor that everything that happened was noted.";
const BROKEN = "This copy of the record does not hold. Keep it, and call the registrar.";

/** Something that does not hold, and where. */
class Fault extends Error {}

/** @param {boolean} holds @param {string} otherwise */
function must(holds, otherwise) {
  if (!holds) throw new Fault(otherwise);
}

/**
 * Checks a bundle. `tell` hears of each check when it is made.
 * @param {Map<string, Uint8Array>} files @param {Held} held @param {(check: Check) => void} [tell]
 * @returns {Promise<Audit>}
 */
export async function audit(files, held, tell = () => {}) {
  const bundle = new Bundle(files, held);
  /** @type {Check[]} */
  const checks = [];
  for (const [name, command, work] of bundle.checks()) {
    const check = await made(name, command, work);
    checks.push(check);
    tell(check);
    // What follows rests on it.
    if (check.outcome === "broken") break;
  }
  const holds = checks.every(({ outcome }) => outcome !== "broken");
  return { holds, sentence: holds ? SHOWS : BROKEN, size: bundle.head?.checkpoint.size ?? 0, checks };
}

/** @param {string} name @param {string} command @param {(() => Promise<string>)|null} work @returns {Promise<Check>} */
async function made(name, command, work) {
  if (!work) return { name, command, outcome: "not here", detail: "This page does not check it; the verifier does." };
  try {
    return { name, command, outcome: "holds", detail: await work() };
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    return { name, command, outcome: "broken", detail: error.message };
  }
}

class Bundle {
  /** @type {SignedCheckpoint|null} */
  head = null;
  /** @type {{leaf: Leaf, text: string, hash: Uint8Array}[]} */
  leaves = [];
  /** Null where the body is withheld. @type {(Opened|null)[]} */
  notes = [];

  /** Each with the seq of the note that brings it in; see `readLogKeys`. @type {{key: VerifierKey, seq: number, overlapUntil: number}[]} */
  logKeys = [];

  /** @param {Map<string, Uint8Array>} files @param {Held} held */
  constructor(files, held) {
    this.files = files;
    this.held = held;
  }

  /** @returns {[string, string, (() => Promise<string>)|null][]} */
  checks() {
    const key = writeVerifierKey(this.held.logKey);
    const verify = `selachron-verify . --log-key '${key}'`;
    return [
      ["Nothing was damaged on the way", "sha256sum --check --strict SHA256SUMS", () => this.sums()],
      ["The checkpoint is signed by the key pinned here", verify, () => this.checkpoint()],
      ["The leaves lead to the checkpoint", verify, () => this.tree()],
      ["Every note is the one in its leaf, and signed", verify, () => this.envelopes()],
      ["Older checkpoints are of the same record", verify, () => this.olderOnes()],
      ["Every device saw this record and no other", verify, () => this.seenByDevices()],
      ["What this device has seen is in it", `${verify} --seen CHECKPOINT`, () => this.seenHere()],
      ["The receipts kept here are in it", `${verify} --seen RECEIPT`, () => this.receipts()],
      ["Those who signed might do so: roles, approvals, thresholds", verify, null],
    ];
  }

  /** @param {string} name */
  text(name) {
    const bytes = this.files.get(name);
    const text = bytes && fromUtf8(bytes);
    if (text === undefined || text === null) throw new Fault(`the bundle has no text ${name}`);
    return text;
  }

  async sums() {
    const lines = this.text("SHA256SUMS").split("\n");
    must(lines.pop() === "", "SHA256SUMS does not end with a line feed");
    const listed = new Set(lines.map((line) => line.slice(66)));
    for (const line of lines) {
      const [sum, name] = [line.slice(0, 64), line.slice(66)];
      const bytes = this.files.get(name);
      must(bytes !== undefined && hex(await sha256(bytes)) === sum, `${name} is not the file whose sum stands in SHA256SUMS`);
    }
    for (const name of this.files.keys()) must(name === "SHA256SUMS" || listed.has(name), `${name} stands in no sum`);
    return `${lines.length} files have the sums that SHA256SUMS says.`;
  }

  async checkpoint() {
    const { logKey } = this.held;
    const key = await parseVerifierKey(this.text("log.vkey").trim());
    must(writeVerifierKey(key) === writeVerifierKey(logKey), "the bundle names another log key than the one pinned on this device");
    this.head = parseCheckpoint(this.text("checkpoint"));
    must(writeCheckpoint(this.head) === this.text("checkpoint"), "the file checkpoint is not in its one form");
    must(await isSignedBy(this.head, logKey), "the checkpoint is not signed by the log key pinned on this device");
    return `${this.head.checkpoint.size} notes, root ${base64(this.head.checkpoint.root)}, under the key ${await fingerprint(logKey)}.`;
  }

  get size() {
    return this.head?.checkpoint.size ?? 0;
  }

  async tree() {
    const texts = this.text("leaves").split("\n\n");
    must(texts.pop() === "", "the file leaves does not end with an empty line");
    must(texts.length === this.size, `there are ${texts.length} leaves, the checkpoint says ${this.size}`);
    for (const [seq, bare] of texts.entries()) {
      const text = `${bare}\n`;
      const leaf = parseLeaf(text);
      must(leaf !== null && leaf.seq === seq && writeLeaf(leaf) === text, `leaf ${seq} is not one, or stands in another's place`);
      if (!leaf) continue;
      must(seq === 0 || leaf.recorded_ms >= (this.leaves[seq - 1]?.leaf.recorded_ms ?? 0), `leaf ${seq} was recorded before the one in front of it`);
      this.leaves.push({ leaf, text, hash: await leafHash(utf8(text)) });
    }
    must(equal(await this.root(this.size), this.head?.checkpoint.root ?? new Uint8Array()), "the root over the leaves is not the checkpoint's");
    const newest = this.leaves.at(-1)?.leaf;
    return `${texts.length} leaves, none missing, the newest recorded at ${newest ? utcText(newest.recorded_ms) : "no time"}.`;
  }

  /** @param {number} size */
  root(size) {
    return rootOf(this.leaves.slice(0, size).map(({ hash }) => hash));
  }

  async olderOnes() {
    const names = [...this.files.keys()].filter((name) => name.startsWith("checkpoints/"));
    for (const name of names) {
      const note = parseCheckpoint(this.text(name));
      must(name === `checkpoints/${note.checkpoint.size}` && note.checkpoint.size < this.size, `${name} is of another size than its name`);
      const keys = this.keysAt(note.checkpoint.size);
      const signed = await Promise.all(keys.map((key) => isSignedBy(note, key)));
      must(signed.length > 0 && !signed.includes(false), `${name} is not signed by the log key of its size`);
      must(equal(note.checkpoint.root, await this.root(note.checkpoint.size)), `${name} has another root than these leaves: the record has forked`);
    }
    return `${names.length} older checkpoints, each with the root of these very leaves.`;
  }

  async envelopes() {
    const lines = this.text("envelopes.ndjson").split("\n");
    must(lines.pop() === "" && lines.length === this.size, `there are ${lines.length} envelopes for ${this.size} leaves`);
    let ring = /** @type {Map<string, Uint8Array>} */ (new Map());
    const [ids, versions] = [new Set(), /** @type {Map<string, number>} */ (new Map())];
    let withheld = 0;
    for (const [seq, line] of lines.entries()) {
      const leaf = /** @type {{leaf: Leaf}} */ (this.leaves[seq]).leaf;
      const hash = withheldHash(line);
      if (hash) {
        must(equal(hash, leaf.bodySha256), `the withheld body at ${seq} is not the one in its leaf`);
        withheld += 1;
        this.notes.push(null);
        continue;
      }
      const note = await this.opened(seq, line, ring);
      ring = await withKeysOf(note.event, ring);
      must(equal(note.bodySha256, leaf.bodySha256), `the note at ${seq} is not the one in its leaf`);
      must(writeEnvelope(note.body, note.signatures) === line, `the envelope at ${seq} is not in its written form`);
      must(JSON.stringify(note.signatures.map(flat)) === JSON.stringify(leaf.signatures.map(flat)), `the signatures at ${seq} are not those in its leaf`);
      must(!ids.has(note.event.id), `the id of the note at ${seq} is used twice`);
      ids.add(note.event.id);
      const version = (versions.get(note.event.subject) ?? 0) + 1;
      // A withheld body counts a version too, of a subject that is not looked up here.
      const fits = withheld === 0 ? leaf.subjectVersion === version : leaf.subjectVersion >= version;
      must(fits, `the version of ${note.event.subject} at ${seq} is ${leaf.subjectVersion}, these notes make it ${version}`);
      versions.set(note.event.subject, leaf.subjectVersion);
      this.notes.push(note);
    }
    await this.readLogKeys();
    return `${lines.length - withheld} notes, every signature valid${withheld > 0 ? `; ${withheld} withheld, their places kept` : ""}.`;
  }

  /** The log's keys by founding and changes (F14); the newest is the one that is pinned here. */
  async readLogKeys() {
    for (const [seq, note] of this.notes.entries()) {
      if (!note || !["collection.founded.v1", "log.rekeyed.v1"].includes(note.event.type)) continue;
      const { log_vkey, overlap_until_size = 0 } = note.event.data;
      this.logKeys.push({ key: await parseVerifierKey(String(log_vkey)), seq, overlapUntil: Number(overlap_until_size) });
    }
    const newest = this.logKeys.at(-1);
    must(newest !== undefined && writeVerifierKey(newest.key) === writeVerifierKey(this.held.logKey), "the notes name another newest log key than the one pinned on this device");
  }

  /** Keys that sign a checkpoint of that size, the newest first. @param {number} size @returns {VerifierKey[]} */
  keysAt(size) {
    const at = this.logKeys.findLastIndex(({ seq }) => seq < size);
    const [now, before] = [this.logKeys[at], this.logKeys[at - 1]];
    return [...(now ? [now.key] : []), ...(now && before && size <= now.overlapUntil ? [before.key] : [])];
  }

  /** @param {number} seq @param {string} line @param {Map<string, Uint8Array>} ring */
  async opened(seq, line, ring) {
    try {
      return await open(utf8(line), { origin: seq === 0 ? null : this.held.logKey.name, ring });
    } catch (error) {
      throw new Fault(`the note at ${seq}: ${/** @type {Error} */ (error).message}`);
    }
  }

  async seenByDevices() {
    /** @type {Map<number, Uint8Array>} */
    const roots = new Map();
    const wanted = new Set(this.notes.map((note) => note?.event.seen?.size ?? 0));
    await rootOf(this.leaves.map(({ hash }) => hash), async (size, root) => {
      if (wanted.has(size)) roots.set(size, await root());
    });
    let count = 0;
    for (const [seq, note] of this.notes.entries()) {
      const seen = note?.event.seen;
      if (!seen) continue;
      await this.checkSeen(seen);
      const root = roots.get(seen.size);
      must(seen.size <= seq && root !== undefined && equal(root, seen.root), `the device that wrote the note at ${seq} saw another record`);
      count += 1;
    }
    return `${count} notes say what their device had seen, and it is this record.`;
  }

  /** That a log key of its size signed what a device saw. @param {Seen} seen */
  async checkSeen(seen) {
    const [newest, ...others] = this.keysAt(seen.size);
    if (!newest) throw new Fault("no log key is known for what a device saw");
    for (const key of others) if (await checkSeen(seen, key).then(() => true, () => false)) return;
    await checkSeen(seen, newest);
  }

  async seenHere() {
    const { seen } = this.held;
    if (!seen) return "This device has not verified a checkpoint yet.";
    must(seen.size <= this.size, `this device has verified ${seen.size} notes, the bundle holds ${this.size}: notes are missing`);
    must(equal(seen.root, await this.root(seen.size)), `for its first ${seen.size} notes this device verified another root: the record has forked`);
    return `The ${seen.size} notes that this device verified before are the first ${seen.size} here.`;
  }

  async receipts() {
    for (const { leaf, leafText } of this.held.receipts) must(this.leaves[leaf.seq]?.text === leafText, `the receipt of the note at ${leaf.seq} is of another leaf`);
    return `${this.held.receipts.length} receipts, each for the leaf at its place.`;
  }
}

/** @param {{keyid: string, sig: Uint8Array}} signature */
const flat = ({ keyid, sig }) => [keyid, base64(sig)];

/** The hash in the line of a withheld body. @param {string} line */
function withheldHash(line) {
  const [, hash] = /^\{"withheld":"([^"]*)"\}$/.exec(line) ?? [];
  return hash === undefined ? null : fromBase64Of32(hash);
}
