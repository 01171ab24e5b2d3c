// The proof over the bundle of the vectors: it holds as it is, and not with anything changed.

import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { readFileSync, readdirSync, statSync } from "node:fs";
import { test } from "node:test";
import { audit } from "../../../clients/tankside/agreement/audit.js";
import { parseCheckpoint, parseVerifierKey } from "../../../clients/tankside/agreement/note.js";
import { parseReceipt } from "../../../clients/tankside/agreement/receipt.js";
import { readTar } from "../../../clients/tankside/agreement/tar.js";
import { vectors } from "../checks/vectors.mjs";

const folder = new URL("../../reference/log/bundle/", import.meta.url);
const { vectors: made } = vectors();
const logKey = await parseVerifierKey(made.log_vkey);

/** @param {string} below @returns {[string, Uint8Array][]} */
function read(below) {
  return readdirSync(new URL(below, folder)).flatMap((name) => {
    const path = `${below}${name}`;
    return statSync(new URL(path, folder)).isDirectory() ? read(`${path}/`) : [[path, new Uint8Array(readFileSync(new URL(path, folder)))]];
  });
}

const bundle = () => new Map(read("").map(([path, bytes]) => [path.replace(/^\.\//, ""), bytes]));
const seen = parseCheckpoint(made.events[4].checkpoint_after).checkpoint;
const held = { logKey, seen, receipts: [parseReceipt(made.receipt_of_5_at_size_9)] };

/** The sums of what is there now, as whoever changes a file would write them. @param {Map<string, Uint8Array>} files */
function summed(files) {
  const names = [...files.keys()].filter((name) => name !== "SHA256SUMS").sort();
  const lines = names.map((name) => `${createHash("sha256").update(files.get(name) ?? "").digest("hex")}  ${name}\n`);
  return files.set("SHA256SUMS", new TextEncoder().encode(lines.join("")));
}

/** @param {Map<string, Uint8Array>} files @param {string} name @param {(text: string) => string} change */
const changed = (files, name, change) => summed(files.set(name, new TextEncoder().encode(change(new TextDecoder().decode(files.get(name))))));

test("the bundle of the vectors holds, check by check", async () => {
  const told = /** @type {string[]} */ ([]);
  const found = await audit(bundle(), held, ({ name }) => told.push(name));
  assert.deepEqual(found.checks.filter(({ outcome }) => outcome === "broken"), []);
  assert.equal(found.size, 9);
  assert.equal(told.length, found.checks.length);
  assert.equal(found.checks.at(-1)?.outcome, "not here", "what this page does not check it says");
  assert.match(found.sentence, /^Every note is as it was signed/);
});

test("whatever is changed is found, with its sums made anew too", async () => {
  const swap = (/** @type {string} */ text) => {
    const lines = text.split("\n");
    [lines[3], lines[4]] = [lines[4] ?? "", lines[3] ?? ""];
    return lines.join("\n");
  };
  const cases = /** @type {[string, Map<string, Uint8Array>, RegExp][]} */ ([
    ["a byte without its sum", bundle().set("leaves", new Uint8Array([1])), /SHA256SUMS/],
    ["a leaf's time", changed(bundle(), "leaves", (text) => text.replace("00:14", "00:15").replace(/(\n3\n\d{4}-\d\d-\d\dT\d\d:\d\d:)\d\d/, "$159")), /root over the leaves|recorded before/],
    ["notes swapped", changed(bundle(), "envelopes.ndjson", swap), /not the one in its leaf|the note at/],
    ["the last note cut off", changed(bundle(), "envelopes.ndjson", (text) => `${text.trimEnd().split("\n").slice(0, -1).join("\n")}\n`), /8 envelopes for 9/],
    ["a signature's bit", changed(bundle(), "envelopes.ndjson", (text) => text.replace(/"sig":"(.)/, (_, first) => `"sig":"${first === "A" ? "B" : "A"}`)), /the note at 0/],
    ["another checkpoint", changed(bundle(), "checkpoint", () => made.events[7].checkpoint_after), /9 leaves, the checkpoint says 8/],
    ["an older checkpoint under another size", changed(bundle(), "checkpoints/5", () => made.events[5].checkpoint_after), /another size than its name/],
    ["another log key", changed(bundle(), "log.vkey", (text) => text.replace("nursery", "nurser")), /hash|another log key/],
  ]);
  for (const [what, files, says] of cases) {
    const found = await audit(files, held);
    assert.equal(found.holds, false, what);
    assert.match(found.checks.at(-1)?.detail ?? "", says, what);
  }
});

test("what this device holds is held against it", async () => {
  const other = { ...held, seen: { ...seen, root: new Uint8Array(32) } };
  assert.match((await audit(bundle(), other)).checks.at(-1)?.detail ?? "", /forked/);
  const more = { ...held, seen: { ...seen, size: 10 } };
  assert.match((await audit(bundle(), more)).checks.at(-1)?.detail ?? "", /notes are missing/);
  const receipt = parseReceipt(made.receipt_of_5_at_size_9);
  const bent = { ...held, receipts: [{ ...receipt, leafText: `${receipt.leafText}x` }] };
  assert.match((await audit(bundle(), bent)).checks.at(-1)?.detail ?? "", /another leaf/);
});

test("a tar is read, and what is none is refused", () => {
  const header = new Uint8Array(512);
  header.set(new TextEncoder().encode("checkpoints/5"), 0);
  header.set(new TextEncoder().encode("00000000003\0"), 124);
  header.set(new TextEncoder().encode("0"), 156);
  const body = new Uint8Array(512);
  body.set([7, 8, 9]);
  const tar = new Uint8Array([...header, ...body, ...new Uint8Array(1024)]);
  assert.deepEqual([...readTar(tar)], [["checkpoints/5", new Uint8Array([7, 8, 9])]]);
  assert.throws(() => readTar(tar.slice(0, 513)), /no tar/);
});
