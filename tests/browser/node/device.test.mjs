// What the device decides without a browser: when a tap is signed, which count it takes, what goes
// out together, what an answer may say.

import assert from "node:assert/strict";
import { test } from "node:test";
import { cut } from "../../../clients/tankside/device/live.js";
import { CASES_PENDING_MAX, TAKE_BACK_MS, due, take } from "../../../clients/tankside/device/outbox.js";
import { checkHead } from "../../../clients/tankside/device/readings.js";
import { batches } from "../../../clients/tankside/device/sending.js";
import { alarmOf, draftOf } from "../../../clients/tankside/shell/notes-here.js";
import { match, pathOf } from "../../../clients/tankside/shell/router.js";

/** @param {string} id @param {number} tapped_ms @param {string} [group] @param {string} [keyid] */
const row = (id, tapped_ms, group = id, keyid = "k") => /** @type {any} */ ({ id, tapped_ms, group, keyid });
const ids = (/** @type {any[]} */ rows) => rows.map(({ id }) => id);

test("a tap is signed after a minute, or when three more cases are done", () => {
  const rows = [row("a", 1000), row("b", 2000), row("c", 3000)];
  assert.deepEqual(ids(due(rows, 4000)), [], "three cases can be taken back");
  assert.deepEqual(ids(due([...rows, row("d", 4000)], 4000)), ["a"]);
  assert.deepEqual(ids(due(rows, 1000 + TAKE_BACK_MS)), ["a"]);
  assert.deepEqual(ids(due([row("a1", 1000, "a"), row("a2", 1500, "a"), row("b", 2000), row("c", 3000), row("d", 4000)], 4000)), ["a1", "a2"], "a case's notes go together");
  assert.deepEqual(ids(due([row("a1", 1000, "a"), row("b", 2000), row("c", 3000), row("d", 4000), row("a2", 5000, "a")], 5000)), ["b"], "a case that is touched again is new again");
  assert.deepEqual(ids(due([row("a", 1000, "same", "one"), ...rows.map(({ id, tapped_ms }) => row(id, tapped_ms + 10, id, "other"))], 4000)), ["a"], "two people's notes of one case are two cases");
  assert.equal(CASES_PENDING_MAX, 3);
});

test("counts of refused notes are used again, but not by a note that gives a count up", () => {
  const counts = { keyid: "k", next: 9, free: [5, 3] };
  assert.deepEqual(take(counts, false), { keycount: 3, rest: { keyid: "k", next: 9, free: [5] } });
  assert.deepEqual(take(counts, true), { keycount: 9, rest: { keyid: "k", next: 10, free: [3, 5] } });
  assert.deepEqual(take({ ...counts, free: [] }, false).rest, { keyid: "k", next: 10, free: [] });
  assert.throws(() => take({ keyid: "k", next: 2_147_483_648, free: [] }, false), /new key/);
});

test("what goes out together is what the service takes at once, in its order", () => {
  const note = (/** @type {number} */ at, /** @type {number} */ bytes) => /** @type {any} */ ({ id: String(at), body: new Uint8Array(bytes), signatures: [{ keyid: "0".repeat(32), sig: new Uint8Array(64) }] });
  const many = Array.from({ length: 600 }, (_, at) => note(at, 500));
  assert.deepEqual(batches(many).map(({ length }) => length), [256, 256, 88]);
  assert.deepEqual(batches(many).flat(), many);
  const large = Array.from({ length: 500 }, (_, at) => note(at, 16_384 * 4));
  assert.ok(batches(large).every((batch) => batch.length < 100), "8 MiB at most");
  assert.deepEqual(batches([]), []);
});

test("an answer that shows a shorter or another log is not believed", () => {
  const seen = { size: 9, root: new Uint8Array(32) };
  const zeros = Buffer.alloc(32).toString("base64");
  const ones = Buffer.alloc(32, 1).toString("base64");
  checkHead("/v1/eggs", { known_at: 9, root: zeros }, seen);
  checkHead("/v1/eggs", { known_at: 12, root: ones }, seen);
  checkHead("/v1/eggs?known_at=4", { known_at: 4, root: ones }, seen);
  assert.throws(() => checkHead("/v1/eggs", { known_at: 9, root: ones }, seen), /forked/);
  assert.throws(() => checkHead("/v1/eggs", { known_at: 8, root: ones }, seen), /lost notes/);
});

test("events are cut out of a stream wherever it was broken", () => {
  const stream = 'retry: 2000\nid: 4\nevent: grown\ndata: {"seq":4}\n\n:\n\nid: 5\nevent: grown\ndata: {"seq":5}\n\n';
  for (let at = 0; at <= stream.length; at += 1) {
    const first = cut(stream.slice(0, at));
    const told = [...first.told, ...cut(first.rest + stream.slice(at)).told];
    assert.deepEqual(told.map(({ id, event, data }) => [id, event, data]), [["4", "grown", '{"seq":4}'], ["5", "grown", '{"seq":5}']], `broken at ${at}`);
  }
});

test("a hash names a screen and its parts", () => {
  const screens = [{ path: "/" }, { path: "/tray/:noun/:id" }, { path: "/tray/tank/all" }];
  assert.deepEqual(match(screens, "#/tray/tank/01%2F2"), { screen: screens[1], params: { noun: "tank", id: "01/2" } });
  assert.equal(match(screens, "#/tray/tank"), null);
  assert.equal(match(screens, "#/tray/tank/"), null);
  assert.equal(match(screens, "")?.screen, screens[0]);
  assert.equal(pathOf("#/a/b?c=d"), "/a/b");
});

test("what waits is calm for two days, and a refused note is not", () => {
  const outbox = /** @type {any} */ ({ refused: 0, oldest_ms: 0 });
  const hour_ms = 3_600_000;
  assert.equal(alarmOf(outbox, 48 * hour_ms), "calm");
  assert.equal(alarmOf(outbox, 48 * hour_ms + 1), "late");
  assert.equal(alarmOf({ ...outbox, refused: 1 }, 0), "refused");
  assert.equal(alarmOf({ ...outbox, refused: 1, broken: "a receipt" }, 0), "broken");
  assert.equal(alarmOf({ ...outbox, oldest_ms: null }, 99 * hour_ms), "calm");
});

test("what happened long ago says why it is written now", () => {
  const at_ms = Date.parse("2026-07-05T08:00:00Z");
  const saying = { subject: "egg/01JDH3G6C0EGG0000000000001", says: "seen", time: "2026-07-05T07:44:59Z" };
  assert.throws(() => draftOf("egg.candled.v1", {}, saying, at_ms), /why it is written now/);
  assert.equal(draftOf("egg.candled.v1", {}, { ...saying, late: "hands were wet" }, at_ms).late, "hands were wet");
  assert.equal(draftOf("egg.candled.v1", {}, { ...saying, time: "2026-07-05T09:50:00+02:00" }, at_ms).time_ms, at_ms - 600_000);
  assert.throws(() => draftOf("egg.candled.v1", {}, { ...saying, time: "yesterday" }, at_ms), /not a time/);
});
