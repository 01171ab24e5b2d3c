// A change of the log's key is followed on the word of the root keys, and on nobody else's. The small log
// is made here, with keys of this run.

import assert from "node:assert/strict";
import { test } from "node:test";
import { base64, base64url, sha256, utf8 } from "../../../clients/tankside/agreement/bytes.js";
import { signedBytes, writeEnvelope } from "../../../clients/tankside/agreement/envelope.js";
import { follow } from "../../../clients/tankside/agreement/following.js";
import { leafHash, nodeHash } from "../../../clients/tankside/agreement/merkle.js";
import { keyidOf } from "../../../clients/tankside/agreement/names.js";
import { checkpointText, parseVerifierKey, writeVerifierKey } from "../../../clients/tankside/agreement/note.js";
import { writeLeaf } from "../../../clients/tankside/agreement/receipt.js";

const ORIGIN = "records.example.org/invented";
const ulid = (/** @type {number} */ number) => `01JDH3G6C0TEST${String(number).padStart(12, "0")}`;

/** @param {number} number */
async function hand(number) {
  const { privateKey, publicKey } = /** @type {CryptoKeyPair} */ (await crypto.subtle.generateKey("Ed25519", false, ["sign", "verify"]));
  const raw = new Uint8Array(await crypto.subtle.exportKey("raw", publicKey));
  const sign = async (/** @type {Uint8Array} */ bytes) => new Uint8Array(await crypto.subtle.sign("Ed25519", privateKey, Uint8Array.from(bytes)));
  return { sign, raw, keyid: await keyidOf(raw), person: `person/${ulid(number)}` };
}

/** @typedef {Awaited<ReturnType<typeof hand>>} Hand */

/** @param {Hand} of */
async function vkey(of) {
  const name = utf8(`${ORIGIN}\n`);
  const hash = (await sha256(Uint8Array.from([...name, 1, ...of.raw]))).slice(0, 4);
  return parseVerifierKey(writeVerifierKey({ name: ORIGIN, hash, publicKey: of.raw }));
}

const roots = (/** @type {Hand[]} */ hands) => hands.map(({ raw, person }) => ({ public_key: base64(raw), person }));

/** @param {Hand} author @param {string} type @param {any} data */
const bodyOf = (author, type, data) => utf8(JSON.stringify({
  specversion: "1.0", id: ulid(Math.floor(Math.random() * 1e11)), source: `https://${ORIGIN}`, type, subject: "collection", time: "2026-03-01T09:00:00Z",
  keyid: author.keyid, keycount: 1, nonce: base64url(new Uint8Array(16)), signedtime: "2026-03-01T09:00:00Z", data,
}));

/** Root over hashes, and what proves the one at `at`. @param {Uint8Array[]} hashes @param {number} at @returns {Promise<{root: Uint8Array, proof: Uint8Array[]}>} */
async function tree(hashes, at) {
  if (hashes.length === 1) return { root: /** @type {Uint8Array} */ (hashes[0]), proof: [] };
  let half = 1;
  while (half * 2 < hashes.length) half *= 2;
  const [left, right] = [await tree(hashes.slice(0, half), at < half ? at : 0), await tree(hashes.slice(half), at < half ? 0 : at - half)];
  const proof = at < half ? [...left.proof, right.root] : [...right.proof, left.root];
  return { root: await nodeHash(left.root, right.root), proof };
}

/**
 * The notes as a service shows them: each with the signatures of these, in one tree that `logs` signed.
 * @param {{body: Uint8Array, by: Hand[]}[]} notes @param {Hand[]} logs
 */
async function shown(notes, logs) {
  const made = await Promise.all(notes.map(async ({ body, by }, seq) => {
    const signatures = await Promise.all(by.map(async (one) => ({ keyid: one.keyid, sig: await one.sign(signedBytes(body)) })));
    signatures.sort((a, b) => (a.keyid < b.keyid ? -1 : 1));
    const leaf = writeLeaf({ seq, recorded_ms: Date.UTC(2026, 2, 1, 9, seq), subjectVersion: seq + 1, bodySha256: await sha256(body), signatures });
    return { envelope: writeEnvelope(body, signatures), leaf, hash: await leafHash(utf8(leaf)) };
  }));
  const hashes = made.map(({ hash }) => hash);
  const text = checkpointText({ origin: ORIGIN, size: made.length, root: (await tree(hashes, 0)).root });
  const lines = await Promise.all(logs.map(async (log) => {
    const { hash } = await vkey(log);
    return `\u2014 ${ORIGIN} ${base64(Uint8Array.from([...hash, ...(await log.sign(utf8(text)))]))}\n`;
  }));
  return Promise.all(made.map(async ({ envelope, leaf }, seq) => {
    const proof = (await tree(hashes, seq)).proof.map((hash) => `${base64(hash)}\n`).join("");
    return { envelope, receipt: `c2sp.org/tlog-proof@v1\nextra ${base64(utf8(leaf))}\nindex ${seq}\n${proof}\n${text}\n${lines.join("")}` };
  }));
}

const [old, next, thief] = await Promise.all([hand(1), hand(2), hand(3)]);
const [a, b, c, d] = await Promise.all([hand(11), hand(12), hand(13), hand(14)]);
const founding = { body: bodyOf(a, "collection.founded.v1", { origin: ORIGIN, root_keys: roots([a, b]), root_threshold: 2, log_vkey: writeVerifierKey(await vkey(old)) }), by: [a, b] };
const replaced = { body: bodyOf(a, "root.replaced.v1", { root_keys: roots([c, d]), root_threshold: 2, reason: "left" }), by: [a, b] };
/** @param {Hand} author @param {Hand[]} by @param {Hand} to */
const change = async (author, by, to) => ({ body: bodyOf(author, "log.rekeyed.v1", { log_vkey: writeVerifierKey(await vkey(to)), overlap_until_size: 99, reason: "new machine" }), by });
const pinned = await vkey(old);

test("a change by the roots in force is followed, through their replacement", async () => {
  const plain = await shown([founding, await change(a, [a, b, thief], next)], [old, next]);
  assert.equal(writeVerifierKey((await follow(pinned, plain)).key), writeVerifierKey(await vkey(next)));
  const after = await shown([founding, replaced, await change(c, [c, d], next)], [old, next]);
  const found = await follow(pinned, after);
  assert.equal(writeVerifierKey(found.key), writeVerifierKey(await vkey(next)));
  assert.equal(found.checkpoint.checkpoint.size, 3);
});

test("whoever holds the log key alone leads nobody away", async () => {
  /** @type {[string, {body: Uint8Array, by: Hand[]}[], Hand[], RegExp][]} */
  const cases = [
    ["one root", [founding, await change(a, [a], thief)], [old, thief], /needs the signatures of 2 root persons/],
    ["no root", [founding, await change(thief, [thief], thief)], [old, thief], /needs the signatures/],
    ["an author who is no root", [founding, await change(thief, [thief, a, b], thief)], [old, thief], /its author among them/],
    ["former roots", [founding, replaced, await change(a, [a, b], thief)], [old, thief], /needs the signatures/],
    ["a replacement by one", [founding, { ...replaced, by: [a] }, await change(c, [c, d], thief)], [old, thief], /root.replaced.v1 at 1/],
    ["a founding by one", [{ ...founding, by: [a] }, await change(a, [a, b], thief)], [old, thief], /not signed by all/],
    ["no founding", [replaced, await change(c, [c, d], thief)], [old, thief], /does not found/],
    ["no change", [founding, replaced], [old, thief], /root.replaced.v1 stands where/],
    ["one note", [founding], [old, thief], /both needed/],
    ["a checkpoint without the new key", [founding, await change(a, [a, b], next)], [old], /new key has not signed/],
    ["a checkpoint without the pinned key", [founding, await change(a, [a, b], next)], [next], /not signed by the log key/],
    ["no other key", [founding, await change(a, [a, b], old)], [old], /no other key/],
  ];
  for (const [what, notes, logs, says] of cases) await assert.rejects(follow(pinned, await shown(notes, logs)), says, what);
});

test("notes of two trees, or in another order, are not one log", async () => {
  const notes = [founding, await change(a, [a, b], next)];
  const [first, second] = [await shown(notes, [old, next]), await shown([...notes, replaced], [old, next])];
  await assert.rejects(follow(pinned, [/** @type {any} */ (first[0]), /** @type {any} */ (second[1])]), /order of one log/);
  await assert.rejects(follow(pinned, [/** @type {any} */ (first[1]), /** @type {any} */ (first[0])]), /order of one log/);
  const swapped = [{ envelope: /** @type {any} */ (first[1]).envelope, receipt: /** @type {any} */ (first[0]).receipt }, /** @type {any} */ (first[1])];
  await assert.rejects(follow(pinned, swapped), /of another note/);
});
