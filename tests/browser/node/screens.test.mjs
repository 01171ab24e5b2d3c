// What screens work out before they show it: this device's notes laid over an answer, a tray in its
// order, an open round, two clocks over a history, what changed.

import assert from "node:assert/strict";
import { test } from "node:test";
import { animalsChangedSince, bandCounts, changedSince, lossesSince } from "../../../clients/tankside/screens/desk/changes.js";
import { memberWords, tellNote } from "../../../clients/tankside/screens/desk/telling.js";
import { proofOf, takenAway, viewAt } from "../../../clients/tankside/screens/desk/two-clocks.js";
import { day, daysBetween, fromLocal, instant, localText, since } from "../../../clients/tankside/screens/parts/days.js";
import { animalsWith, eggsWith, unknownTo } from "../../../clients/tankside/screens/parts/laid-over.js";
import { againstLook, codeOf, isMeant, lastWords, readCode, rowsOf, sheetHere, sheetPath, sinceMade, whenWritten } from "../../../clients/tankside/screens/parts/paper.js";
import { cellsOf, lookedAt, openRound } from "../../../clients/tankside/screens/parts/tray.js";

/** @param {string} type @param {string} subject @param {Record<string, any>} data @param {Record<string, any>} [more] @returns {any} */
const note = (type, subject, data, more = {}) => ({ id: `N-${subject}-${type}`, type, subject, data, time: "2026-11-25T08:00:00Z", says: type, keyid: "", state: "waiting", group: subject, tapped_ms: 0, ...more });
const egg = (/** @type {string} */ id, more = {}) => ({ id, label: id.slice(4), place: { tank: "tank/1" }, taken_in: {}, looks: [], fate: { state: "open" }, ...more });

test("an answer that knows a note already is left as it is", () => {
  const notes = [note("a", "egg/1", {}, { state: "recorded", seq: 9 }), note("a", "egg/2", {}, { state: "recorded", seq: 10 }), note("a", "egg/3", {}, { state: "refused" }), note("a", "egg/4", {}, { state: "pending" })];
  assert.deepEqual(unknownTo(notes, 10).map(({ subject }) => subject), ["egg/2", "egg/4"]);
});

test("looks, losses and finds of this device are laid over what was read", () => {
  const read = [egg("egg/1", { held_apart: { looks_since: 0, since: { time: "2026-11-20T08:00:00Z" } } }), egg("egg/2")];
  const [one, two, three] = eggsWith(read, [
    note("egg.candled.v1", "egg/1", { seen_into: true, band: 4, movement: "still" }),
    note("egg.lost.v1", "egg/2", { apparent_cause: "not determined" }),
    note("egg.collected.v1", "egg/3", { label: "E-9", species: "species/1", to_tank: "tank/1", yolk: "seen" }),
  ]);
  assert.equal(one.band, 4);
  assert.equal(one.held_apart.looks_since, 1, "still does not lift it");
  assert.deepEqual(two.fate.apparent_cause, "not determined");
  assert.deepEqual([three.label, three.fate.state, three.place.tank], ["E-9", "open", "tank/1"]);
  const lifted = eggsWith(read, [note("egg.candled.v1", "egg/1", { seen_into: true, band: 4, movement: "moving" })])[0];
  assert.equal(lifted.held_apart, undefined, "a sighting alive lifts it");
  assert.equal(read[0]?.looks.length, 0, "what was read is not changed");
});

test("young come with their hatch, are fed, weighed, moved and die", () => {
  const hatch = note("egg.hatched.v1", "egg/1", { young: [{ animal: "animal/1", state: "alive", label: "Y", tank: "tank/1", mass_g: 20 }] });
  const [young] = animalsWith([], [hatch, note("animal.fed.v1", "animal/1", { eaten: "none" }), note("animal.fed.v1", "animal/1", { eaten: "some" }), note("animal.moved.v1", "animal/1", { to_tank: "tank/2" })]);
  assert.equal(young.feeds, 2);
  assert.ok(young.first_eaten);
  assert.equal(young.place.tank, "tank/2");
  assert.equal(animalsWith([young], [note("animal.died.v1", "animal/1", { apparent_cause: "injury" })])[0].fate.state, "died");
});

test("a tray shows places in the order of the round, then cases without one", () => {
  const tank = { id: "tank/1", places: [{ id: "place/2", label: "A2", order: 2, eggs: [] }, { id: "place/1", label: "A1", order: 1, eggs: ["egg/7"] }] };
  const cells = cellsOf(tank, [egg("egg/10"), egg("egg/9"), egg("egg/7"), egg("egg/8", { fate: { state: "lost" } }), egg("egg/6", { place: { tank: "tank/2" } })]);
  assert.deepEqual(cells.map((cell) => [cell.label, cell.egg?.id ?? null]), [["A1", "egg/7"], ["A2", null], ["", "egg/9"], ["", "egg/10"]]);
});

test("a round is open until it is closed here or there, and knows what was looked at", () => {
  const opened = note("round.opened.v1", "round/1", { what: "candling", tanks: ["tank/1"], eggs: ["egg/1", "egg/2"], label: "R" });
  const looked = note("egg.candled.v1", "egg/1", {}, { correlation: "round/1" });
  const round = openRound([opened, looked], [], "tank/1", "candling");
  assert.equal(round?.id, "round/1");
  assert.deepEqual([...lookedAt(round, [opened, looked], "egg.candled.v1")], ["egg/1"]);
  assert.equal(openRound([opened], [], "tank/2", "candling"), null);
  assert.equal(openRound([opened, note("round.closed.v1", "round/1", {})], [], "tank/1", "candling"), null);
  const there = openRound([], [{ id: "round/2", what: "candling", tanks: ["tank/1"], looked_at: ["egg/2"] }], "tank/1", "candling");
  assert.deepEqual([...lookedAt(there, [], "egg.candled.v1")], ["egg/2"]);
});

const history = [
  { seq: 3, id: "A", kind: "egg.candled.v1", time: "2026-01-08T08:00:00Z", recorded_at: "2026-01-08T08:05:00Z", by: {}, data: { band: 2 }, standing: "put right", as_written: { time: "2026-01-08T08:00:00Z", data: { band: 5 } }, acts_told: [{ seq: 9, kind: "record.corrected.v1" }] },
  { seq: 12, id: "B", kind: "egg.candled.v1", time: "2026-01-01T08:00:00Z", recorded_at: "2026-01-20T08:05:00Z", by: {}, data: { band: 1 }, standing: "stands" },
];

test("two clocks: what was written until it was put right, and what came late was not yet known", () => {
  const at = (/** @type {number} */ size, time = "2026-02-01T00:00:00Z") => viewAt(history, { time_ms: Date.parse(time), size });
  assert.deepEqual(at(5).map(({ note: { id }, known, standing, data }) => [id, known, standing, data.band]), [["A", true, "stands", 5], ["B", false, "stands", 1]]);
  assert.deepEqual(at(20).map(({ known, standing, data }) => [known, standing, data.band]), [[true, "put right", 2], [true, "stands", 1]]);
  assert.deepEqual(at(20, "2026-01-02T00:00:00Z").map(({ note: { id } }) => id), ["B"]);
  assert.deepEqual(at(5).map(proofOf), ["recorded", "not yet known"]);
  const file = takenAway({ item_id: "egg/1", notes: history, known_at: 20 }, { time_ms: 0, size: 5 }, "E-1");
  assert.equal(file.known_at, 5);
  assert.match(file.again, /^GET \/v1\/eggs\/1\/history\?as_of=1970-01-01T00:00:00.000Z&known_at=5$/);
});

test("what changed names ends before bands, and losses stand beside their number", () => {
  const before = [egg("egg/1", { band: 1 }), egg("egg/2", { band: 2 }), egg("egg/3")];
  const after = [egg("egg/1", { band: 2 }), egg("egg/2", { band: 2, fate: { state: "lost", apparent_cause: "yolk broken", time: "2026-11-20T00:00:00Z" } }), egg("egg/3"), egg("egg/4")];
  assert.deepEqual(changedSince(before, after).map(({ says }) => says), ["lost, apparent cause: yolk broken", "Yolk only → Thread on yolk", "came"]);
  assert.deepEqual(lossesSince(after, Date.parse("2026-11-01T00:00:00Z")), { n: 4, lost: [{ cause: "yolk broken", labels: ["2"] }] });
  assert.deepEqual(lossesSince(after, Date.parse("2026-11-21T00:00:00Z")), { n: 3, lost: [] });
  assert.deepEqual(bandCounts(after), [0, 0, 1, 0, 0, 0, 0, 0, 2]);
});

test("of animals it is told who came, ended, ate first and moved, the ends first", () => {
  const animal = (/** @type {string} */ id, more = {}) => ({ id, label: id.slice(7), origin: { how: "received" }, place: { tank: "tank/1" }, fate: { state: "present" }, ...more });
  const before = [animal("animal/1"), animal("animal/2"), animal("animal/3"), animal("animal/4")];
  const after = [animal("animal/1", { place: { tank: "tank/2" } }), animal("animal/2", { first_eaten: {} }), animal("animal/3", { fate: { state: "died", apparent_cause: "not determined" } }), animal("animal/4"), animal("animal/5", { origin: { how: "hatched" } })];
  assert.deepEqual(animalsChangedSince(before, after).map(({ what, says }) => `${what.label} ${says}`), ["3 died, apparent cause: not determined", "1 moved", "2 first seen to eat", "5 hatched"]);
});

test("days are dates in the house's time zone", () => {
  assert.equal(day("2026-11-25T22:00:00Z", "Australia/Brisbane"), "26 Nov");
  assert.equal(daysBetween("2026-11-25T13:59:00Z", "2026-11-25T14:01:00Z", "Australia/Brisbane"), 1);
  assert.equal(since("2026-11-24T15:00:00Z", Date.parse("2026-11-25T13:00:00Z"), "Australia/Brisbane"), "today 01:00");
  assert.equal(instant(1_764_000_000_999), "2025-11-24T16:00:00Z");
  for (const [zone, text, utc] of /** @type {const} */ ([["Australia/Brisbane", "2026-11-25T08:30", "2026-11-24T22:30:00Z"], ["Europe/Lisbon", "2026-07-01T12:00", "2026-07-01T11:00:00Z"], ["Europe/Lisbon", "2026-12-01T12:00", "2026-12-01T12:00:00Z"], ["Asia/Kathmandu", "2026-01-01T00:10", "2025-12-31T18:25:00Z"]])) {
    assert.equal(instant(fromLocal(text, zone) ?? 0), utc);
    assert.equal(localText(utc, zone), text);
  }
  assert.equal(fromLocal("", "Europe/Lisbon"), null);
});

test("notes are told in words, ids by their end", () => {
  assert.equal(tellNote("egg.held_apart.v1"), "Held apart");
  assert.equal(tellNote("system.water_changed.v1"), "System water changed");
  assert.equal(memberWords({ to_tank: "tank/01JDH3G6C00000000000000000", whole_tank: true, findings: [], offered: [{ food: "squid", amount_g: 3 }] }), "to tank: tank …00000 · whole tank: yes · offered: food squid amount g 3");
});

test("a look that was written on paper is laid in at its own time: a newer one stays the newest", () => {
  const newer = { time: "2026-11-25T10:00:00Z", band: 5, movement: "moving" };
  const held = { looks_since: 0, since: { time: "2026-11-25T09:00:00Z" } };
  const [one] = eggsWith([egg("egg/1", { looks: [newer], band: 5, held_apart: held })], [note("egg.candled.v1", "egg/1", { seen_into: true, band: 4, movement: "moving" })]);
  assert.deepEqual([one.looks.map((/** @type {any} */ look) => look.band), one.band], [[4, 5], 5]);
  assert.deepEqual(one.held_apart, held, "a look from before it was held apart lifts nothing");
});

const PAPER_TANK = { id: "tank/1", label: "Tray", places: [{ id: "place/1", label: "A1", row: "A", order: 1, eggs: ["egg/1"] }, { id: "place/2", label: "A2", row: "A", order: 2, eggs: [] }] };
const onPaper = (/** @type {string} */ id, more = {}) => egg(id, { came: { time: "2026-11-20T08:00:00Z" }, laid_window: { not_after: "2026-11-20T08:00:00Z" }, place: { tank: "tank/1", since: { time: "2026-11-20T08:00:00Z" } }, ...more });
const moved = { place: { tank: "tank/2", since: { time: "2026-11-25T07:00:00Z" } } };

test("a sheet has a row a place; a case that has left keeps its row, one that came since is added", () => {
  const sheet = sheetHere(PAPER_TANK, [onPaper("egg/1"), onPaper("egg/2")], "UTC");
  assert.deepEqual(sheet.places.map(({ label, cases }) => [label, cases.map((one) => one.label)]), [["A1", ["1"]], ["A2", []], [undefined, ["2"]]]);
  const rows = rowsOf(sheet, PAPER_TANK, [onPaper("egg/1", moved), onPaper("egg/2"), onPaper("egg/3")]);
  assert.deepEqual(rows.map(({ key, extra }) => [key, extra]), [["egg/1", false], ["empty 1", false], ["egg/2", false], ["egg/3", true]]);
  const known = { tank: "tank/1", labelOf: () => "Tray 2", zone: "UTC", made_ms: Date.parse("2026-11-25T06:00:00Z") };
  assert.deepEqual(rows.flatMap((row) => sinceMade(row, known)), ["1 is no longer in this tray: it stands in Tray 2 since 25 Nov 2026, 07:00.", "3 stands in this tray since 20 Nov 2026, 08:00 and is not on the sheet."]);
  const at = Date.parse("2026-11-25T06:30:00Z");
  assert.deepEqual(rows.map((row) => isMeant(row, "tank/1", at)), [true, false, true, true], "it was there when the round was begun");
  assert.deepEqual(rows.map((row) => isMeant(row, "tank/1", at + 3_600_000)), [false, false, true, true]);
});

test("a sheet says what of the last look is in doubt", () => {
  const one = { egg: "egg/1", label: "1", last_look: "2026-11-20", band: 4, movement: "still" };
  assert.equal(lastWords(one, (text) => text.slice(5)), "long gill threads, still, 11-20");
  assert.equal(lastWords({ ...one, held_apart: true, suspected: ["01"] }, () => "20 Nov"), "long gill threads, still, 20 Nov · held apart · suspected");
  assert.equal(lastWords({ egg: "egg/1", label: "1" }, String), "not looked at yet");
});

test("what speaks against a look from paper names the field and says what to do", () => {
  const row = (/** @type {any} */ now) => ({ key: now.id, place: "A1", on: { egg: now.id, label: now.label }, egg: now, extra: false });
  const when = { tank: "tank/1", zone: "UTC", at_ms: Date.parse("2026-11-25T08:00:00Z"), begun_ms: null };
  const against = (/** @type {any} */ now, more = {}) => againstLook(row(now), { ...when, ...more });
  assert.deepEqual(against(onPaper("egg/1")), { wrong: "", beside: [] });
  assert.match(against(onPaper("egg/1", { came: { time: "2026-11-25T09:00:00Z" } })).wrong, /^Written on paper at: 25 Nov 2026, 08:00 lies before 1 was found or came here, 25 Nov 2026, 09:00\. Read the day/);
  assert.match(against(onPaper("egg/1", { came: { time: "2026-11-25T09:00:00Z" }, laid_window: { not_before: "2026-11-25T08:30:00Z" } })).wrong, /^Written on paper at: .* lies before 1 was laid, not before 25 Nov 2026, 08:30\./);
  assert.match(against(onPaper("egg/1", { fate: { state: "hatched", time: "2026-11-25T07:00:00Z" } })).wrong, /^1: hatched is recorded for 25 Nov 2026, 07:00, before it was written on paper\./);
  assert.equal(against(onPaper("egg/1", { fate: { state: "hatched", time: "2026-11-25T09:00:00Z" } })).wrong, "", "it hatched after that");
  assert.deepEqual(against(onPaper("egg/1", moved)).beside, ["It stood elsewhere by then: is it this case?"]);
  const looks = [{ time: "2026-11-25T07:50:00Z", band: 4, movement: "moving" }, { time: "2026-11-25T09:00:00Z", band: 4, movement: "moving" }];
  const beside = against(onPaper("egg/1", { looks }), { begun_ms: Date.parse("2026-11-25T07:40:00Z") }).beside;
  assert.match(beside[0] ?? "", /^A look is noted at that time already: long gill threads, moving, 25 Nov 2026, 07:50\./);
  assert.match(beside[1] ?? "", /^Looked at since, 25 Nov 2026, 09:00: that look stays the newest/);
});

test("a moment on paper that cannot be is named with its field", () => {
  const known = { now: Date.parse("2026-11-25T12:00:00Z"), zone: "UTC", printed_ms: Date.parse("2026-11-25T07:00:40Z") };
  const wrong = (/** @type {string} */ at, begun = "") => whenWritten({ at, begun }, known).wrong;
  assert.deepEqual(whenWritten({ at: "2026-11-25T08:30", begun: "08:00" }, known), { at_ms: Date.parse("2026-11-25T08:30:00Z"), begun_ms: Date.parse("2026-11-25T08:00:00Z"), wrong: [] });
  assert.deepEqual(wrong("2026-11-25T07:00"), [], "a sheet names its minute");
  assert.match(wrong("")[0] ?? "", /^Written on paper at: put in the day and the clock/);
  assert.match(wrong("2026-11-26T08:00")[0] ?? "", /^Written on paper at: 26 Nov 2026, 08:00 lies in the future, it is 25 Nov 2026, 12:00 now\./);
  assert.match(wrong("2026-11-25T06:00")[0] ?? "", /^Written on paper at: 25 Nov 2026, 06:00 lies before the sheet was printed, 25 Nov 2026, 07:00\./);
  assert.match(wrong("2026-11-25T08:30", "09:00")[0] ?? "", /^Begun at: 09:00 lies after the end, 08:30\./);
  assert.match(wrong("2026-11-25T08:30", "06:00")[0] ?? "", /^Begun at: 06:00 lies before the sheet was printed/);
});

test("the code on a sheet, and the line at its foot, name the sheet; it is asked for at its minute", () => {
  const code = codeOf({ tank: "tank/01JDH3G6C0TANK00000000000", hash: "0123456789abcdef", size: 812, printed: "2026-11-25T14:05" });
  assert.deepEqual(readCode(code), { hash: "0123456789abcdef", tank: "tank/01JDH3G6C0TANK00000000000", size: 812, printed: "2026-11-25T14:05" });
  assert.deepEqual(readCode("sheet 0123456789abcdef of Tray 1, log size 812"), { hash: "0123456789abcdef", tank: "", size: 812, printed: "" });
  assert.equal(readCode("egg/01JDH3G6C0EGG0000000000001"), null);
  const asked = { tank: "tank/7", size: 812, printed_ms: Date.parse("2026-11-25T14:05:33Z") };
  assert.deepEqual([true, false].map((whole) => sheetPath(asked, whole)), ["59", "00"].map((second) => `/v1/rounds/sheet?tray=7&known_at=812&as_of=2026-11-25T14:05:${second}Z`));
});
