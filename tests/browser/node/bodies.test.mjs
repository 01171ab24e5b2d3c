// Every body that a screen can make satisfies the schema of its kind; and the words on its button
// name what is in it.

import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { test } from "node:test";
import Ajv2020 from "ajv/dist/2020.js";
import addFormats from "ajv-formats";
import * as acts from "../../../clients/tankside/screens/notes/acts.js";
import * as animals from "../../../clients/tankside/screens/notes/animals.js";
import * as candling from "../../../clients/tankside/screens/notes/candling.js";
import * as eggs from "../../../clients/tankside/screens/notes/eggs.js";
import * as house from "../../../clients/tankside/screens/notes/house.js";
import * as paper from "../../../clients/tankside/screens/notes/paper.js";
import * as rounds from "../../../clients/tankside/screens/notes/rounds.js";
import { COUNT_MAX, FOOD_G_MAX, LENGTH_CM_MAX, MASS_G_MAX, MATTERS_MAX, cut, linesOf, oneLine, photoOf, short } from "../../../clients/tankside/screens/notes/note.js";
import { assessmentOf } from "../../../clients/tankside/screens/notes/assessment.js";

/** @import { Draft } from "../../../clients/tankside/screens/notes/note.js" */

const folder = new URL("../../../schemas/v1/", import.meta.url);
const ajv = new /** @type {any} */ (Ajv2020).default({ strict: false, allErrors: true });
/** @type {any} */ (addFormats).default(ajv);
for (const name of readdirSync(folder).filter((file) => file.endsWith(".schema.json"))) {
  ajv.addSchema(JSON.parse(readFileSync(new URL(name, folder), "utf8")), name);
}
const roles = JSON.parse(readFileSync(new URL("roles.json", folder), "utf8"));
const ID = "01JDH3G6C0000000000000000";
const of = (/** @type {string} */ noun, end = "0") => `${noun}/${ID}${end}`;
const PHOTO = { photo_sha256: "a".repeat(64), photo_copy_sha256: "b".repeat(64), taken_ms: 1_783_238_400_999 };

/** @param {Draft} draft */
function valid({ type, data, saying }) {
  const schema = ajv.getSchema(`${type}.schema.json`);
  assert.ok(schema, `there is no schema of ${type}`);
  assert.ok(schema(data), `${type}: ${ajv.errorsText(schema.errors)} in ${JSON.stringify(data)}`);
  assert.ok(roles.kinds[type], `${type} has no authors`);
  const subjects = schema.schema["x-selachron"].subject;
  const noun = saying.subject.split("/")[0] ?? "";
  assert.ok(subjects.includes("*") || subjects.includes(noun), `${type} is not about ${saying.subject}`);
  assert.ok(saying.says.length > 0 && !saying.says.includes("undefined"), saying.says);
}

test("every look that can be tapped", () => {
  for (const band of [null, 0, 1, 2, 3, 4, 5, 6, 7]) {
    for (const movement of candling.MOVEMENTS) {
      for (const findings of [[], ["cloudy"], [...candling.FINDINGS]]) {
        const note = candling.candled({ egg: of("egg"), label: "E-1", band, movement, findings, later: band === 3, colleague: band === 4, prompted: band === 5, photo: band === 6 ? PHOTO : null, round: of("round") });
        valid(note);
        for (const finding of findings) assert.ok(note.saying.says.includes(finding));
        if (note.data.movement) assert.ok(note.saying.says.includes(note.data.movement), note.saying.says);
        if (band === null) assert.equal(note.data.movement, undefined);
      }
    }
  }
});

test("nothing asserts movement where no embryo is seen, and the words say so", () => {
  const note = candling.candled({ egg: of("egg"), label: "E-1", band: 1, movement: "moving" });
  assert.equal(note.data.movement, "could not tell");
  assert.equal(note.saying.says, "Yolk only · movement: could not tell");
  assert.equal(candling.candled({ egg: of("egg"), label: "E-1", band: 3, movement: candling.HOME }).saying.says, "First gill threads · moving");
});

test("the switch, odd things and causes are the schemas' own words, none left out", () => {
  const words = (/** @type {string} */ kind, /** @type {string} */ member) => {
    const { enum: own, items } = ajv.getSchema(`${kind}.v1.schema.json`).schema.properties[member];
    return (own ?? items.enum).toSorted();
  };
  const same = (/** @type {readonly string[]} */ ours, /** @type {string} */ kind, /** @type {string} */ member) => assert.deepEqual(ours.toSorted(), words(kind, member), `${kind} ${member}`);
  same(candling.MOVEMENTS, "egg.candled", "movement");
  same(candling.FINDINGS, "egg.candled", "findings");
  same(candling.HELD_REASONS, "egg.held_apart", "reason");
  same(candling.LOSS_CAUSES, "egg.lost", "apparent_cause");
  same(candling.SEARCHED, "egg.missing", "searched");
  same(rounds.TANK_FINDINGS, "tank.checked", "findings");
  same(eggs.LAID, "egg.collected", "laid");
  same(eggs.EXTENTS, "egg.opened", "extent");
  same(eggs.LEFT_HOW, "egg.opened", "left");
  same(eggs.OUTCOMES, "egg.opened", "outcome");
  same(eggs.URGENT, "egg.opened", "urgent_reason");
  same(eggs.AGAINST, "opening.left", "reasons");
  same(eggs.PUT_DOWN_REASONS, "egg.put_down", "reason");
  same(eggs.ALIVE, "egg.put_down", "alive");
  same(animals.EATEN, "animal.fed", "eaten");
  same(animals.TANK_EATEN, "tank.fed", "eaten");
  same(animals.PURPOSES, "animal.introduced", "purpose");
  same(animals.WENT, "animal.introduced", "went");
  same(animals.SIGNS, "animal.observed", "signs");
  same(animals.DEATH_CAUSES, "animal.died", "apparent_cause");
  same(animals.BODIES, "animal.died", "body");
  same(house.INCIDENTS, "incident.opened", "what");
  same(house.EQUIPMENT, "equipment.faulted", "equipment");
  same(house.EFFECTS, "equipment.faulted", "effects");
  same(house.PH_SCALES, "water.measured", "ph_scale");
  assert.equal(candling.LOSS_CAUSES[0], "not determined");
  assert.equal(animals.DEATH_CAUSES[0], "not determined");
});

test("held apart, lost, missing, remarked", () => {
  for (const reason of candling.HELD_REASONS) valid(candling.heldApart({ egg: of("egg"), reason, tank: of("tank"), tankLabel: "H", remark: "beside the pump" }));
  valid(candling.heldApart({ egg: of("egg"), reason: "smell" }));
  for (const cause of candling.LOSS_CAUSES) valid(candling.lost({ egg: of("egg"), cause, band: 3, plainlyDead: true, photo: PHOTO }));
  valid(candling.lost({ egg: of("egg"), cause: "not determined" }));
  valid(candling.missing({ egg: of("egg"), searched: [...candling.SEARCHED] }));
  valid(candling.missing({ egg: of("egg"), searched: [] }));
  valid(candling.remarked({ id: `${ID}0`, subject: of("egg"), data: { seen_into: false } }, "a hair crack at one end\nseen twice"));
});

test("a loss waits for the looks that the house asks for, unless it is plain and there is a photo", () => {
  const known = { looks: 1, looksMin: 2, plainlyDead: false, photo: null };
  assert.match(candling.lossNeeds(known) ?? "", /No movement is not death/);
  assert.equal(candling.lossNeeds({ ...known, looks: 2 }), null);
  assert.match(candling.lossNeeds({ ...known, plainlyDead: true }) ?? "", /photo/);
  assert.equal(candling.lossNeeds({ ...known, plainlyDead: true, photo: PHOTO }), null);
});

test("rounds and the walk", () => {
  valid(rounds.roundOpened({ round: of("round"), label: "Tray 3", what: "candling", eggs: [of("egg")] }));
  valid(rounds.roundOpened({ round: of("round"), label: "Walk", what: "daily walk", tanks: [of("tank")] }));
  valid(rounds.roundClosed({ round: of("round"), filled: 10, lookedAt: 10, left: [] }));
  for (const reason of rounds.LEFT_REASONS) valid(rounds.roundClosed({ round: of("round"), filled: 10, lookedAt: 9, left: [{ which: of("egg"), reason }] }));
  valid(rounds.trayCounted({ tank: of("tank"), filled: 0, label: "Tray 3" }));
  valid(rounds.allWell({ tank: of("tank"), label: "A1", round: of("round") }));
  valid(rounds.notWell({ tank: of("tank"), label: "A1", findings: [...rounds.TANK_FINDINGS], seen: 4, whole: false, remark: "one behind the rock" }));
  valid(rounds.notWell({ tank: of("tank"), label: "A1", findings: [], seen: 4 }));
  assert.match(rounds.roundClosed({ round: of("round"), filled: 10, lookedAt: 10, left: [] }).saying.says, /places filled 10, looked at 10/);
});

test("a pair is three notes that go back together; the second names the first", () => {
  const find = { tank: of("tank"), tankLabel: "A1", species: of("species"), laid: "pair", pairBasis: "same colour and condition", dams: [of("animal"), of("animal", "1")], toTank: of("tank", "2"), toLabel: "Tray 1", since: "2026-03-01T08:00:00Z" };
  const notes = eggs.collected([{ egg: of("egg"), label: "E-061", look: "whole", yolk: "seen" }, { egg: of("egg", "1"), label: "E-062", look: "damaged", yolk: "could not see" }], find);
  notes.forEach(valid);
  assert.equal(notes.length, 3);
  assert.equal(new Set(notes.map(({ saying }) => saying.group)).size, 1);
  assert.equal(notes[1]?.data.pair_mate, undefined);
  assert.deepEqual(notes[2]?.data.pair_mate, { egg: of("egg"), basis: "same colour and condition" });
  assert.equal(notes[2]?.saying.timeafter, "2026-03-01T08:00:00Z");
  for (const yolk of eggs.YOLK_LOOKS) {
    for (const look of eggs.CASE_LOOKS) eggs.collected([{ egg: of("egg"), label: "E-1", look, yolk }], { ...find, laid: "single", dams: [], toTank: undefined }).forEach(valid);
  }
  valid(eggs.searched({ tank: of("tank"), label: "A1", found: 0 }));
  valid(eggs.placed({ egg: of("egg"), tank: of("tank"), tankLabel: "Tray 1", place: of("place"), placeLabel: "A3" }));
  assert.deepEqual(eggs.collected([], find), []);
});

test("labels count on from the newest, as they are written", () => {
  assert.equal(eggs.nextLabels(["E-059", "E-060", "old 7"])(1), "E-061");
  assert.equal(eggs.nextLabels(["E-099"])(1), "E-100");
  assert.equal(eggs.nextLabels([])(2), "E-002");
});

test("hatched, opened, left", () => {
  const young = { animal: of("animal"), state: /** @type {const} */ ("alive"), label: "Y-12", length_cm: 16.2, mass_g: 19.9, tank: of("tank") };
  for (const how of ["seen to hatch", "found hatched", "camera"]) valid(eggs.hatched({ egg: of("egg"), how, young: [young], tankLabel: "N1" }));
  const none = eggs.hatched({ egg: of("egg"), how: "found hatched", young: [], timeafter: "2026-03-01T08:00:00Z" });
  valid(none);
  assert.deepEqual(none.data.young, []);
  const shared = eggs.hatched({ egg: of("egg"), how: "found hatched", young: [{ animal: of("animal"), state: "dead" }], oneOf: ["E-1", "E-2"] });
  valid(shared);
  assert.equal(shared.data.remark, "From one of E-1, E-2; which was not told.");
  for (const extent of eggs.EXTENTS) {
    for (const outcome of eggs.OUTCOMES) valid(eggs.opened({ egg: of("egg"), extent, knownDead: outcome === "found dead", left: "closed again", outcome, steps: ["yolk gone"], stopped: "external yolk showed", urgent: "young trapped", criteria: ["band 7"] }));
  }
  valid(eggs.leftToHatch({ egg: of("egg"), reasons: [...eggs.AGAINST], by: [of("person")], criteria: ["band 7"], hours: 48, expect: 4 }));
  const decision = eggs.openingAuthorised({ egg: of("egg"), criteria: ["band 7"], persons: [of("person")], from: "2026-03-01T08:00:00Z", to: "2026-03-04T08:00:00Z", extents: ["end slit widened"], against: ["few looks"], days: "1 to 4 March", names: ["Keeper one"] });
  valid(decision);
  for (const part of ["band 7", "few looks", "Keeper one", "end slit widened", "1 to 4 March"]) assert.ok(decision.saying.says.includes(part), part);
});

test("a decision carries what was assessed, as the schema has it", () => {
  const weighed = (/** @type {string} */ what, /** @type {string} */ holds) => ({ what, holds, says: "", evidence: [] });
  const item = { window: { standing: "past the window" }, criteria: [weighed("past the window", "yes"), weighed("band 7", "no"), weighed("alive on repeated looks", "not known")], against: [weighed("few looks", "yes"), weighed("cool water", "no")], met_by: Array.from({ length: 130 }, (_, at) => `egg/01JDH3G6C0000000000000${String(at).padStart(4, "0")}`) };
  const assessment = assessmentOf({ as_of: "2026-03-01T08:50:00+10:00", known_at: 812, item }, "ab".repeat(32));
  assert.equal(assessment.met_by.length, 128);
  assert.equal(assessment.met_by_cases, 130);
  const left = eggs.leftToHatch({ egg: of("egg"), reasons: ["few looks"], by: [of("person")], assessment, assessed: "as assessed at 812 notes" });
  valid(left);
  assert.match(left.saying.says, /as assessed at 812 notes/);
  valid(eggs.openingAuthorised({ egg: of("egg"), criteria: ["band 7"], persons: [of("person")], from: "2026-03-01T08:00:00Z", to: "2026-03-04T08:00:00Z", days: "", names: ["A"], assessment }));
});

test("a case put down says who decided and why, never how", () => {
  for (const reason of eggs.PUT_DOWN_REASONS) {
    for (const alive of eggs.ALIVE) valid(eggs.putDown({ egg: of("egg"), by: [of("person")], names: ["Vet one"], reason, alive, band: 4, authority: "minute 12" }));
  }
  const note = eggs.putDown({ egg: of("egg"), by: [of("person")], names: ["Vet one"], reason: "no room", alive: "yes", authority: "" });
  assert.equal(note.data.authority, undefined);
  for (const part of ["no room", "Vet one", "the embryo was alive"]) assert.ok(note.saying.says.includes(part), part);
});

test("a photo says when it was taken, if the camera did", () => {
  assert.equal(/** @type {any} */ (photoOf(PHOTO)).photo_taken_at, "2026-07-05T08:00:00Z");
  assert.deepEqual(Object.keys(photoOf({ ...PHOTO, taken_ms: null })), ["photo_sha256", "photo_copy_sha256"]);
});

test("limits of numbers are those of the schemas", () => {
  const common = ajv.getSchema("common.schema.json").schema.$defs;
  assert.deepEqual([common.mass_g.maximum, common.length_cm.maximum], [MASS_G_MAX, LENGTH_CM_MAX]);
  assert.equal(ajv.getSchema("tank.checked.v1.schema.json").schema.properties.animals_seen.maximum, COUNT_MAX);
  assert.equal(ajv.getSchema("tank.fed.v1.schema.json").schema.properties.offered.items.properties.amount_g.maximum, FOOD_G_MAX);
  assert.equal(ajv.getSchema("duty.handed_over.v1.schema.json").schema.properties.matters.maxItems, MATTERS_MAX);
});

test("of long words nothing is cut off: they go on in the next line", () => {
  const words = Array.from({ length: 900 }, (_, at) => `word${at}`);
  const lines = linesOf(`${words.join(" ")}\n\n  short one  \n${"x".repeat(450)}`);
  assert.ok(lines.every((line) => [...line].length <= 200 && line.length > 0));
  assert.deepEqual(lines.join(" ").replaceAll(/(x+) (?=x)/g, "$1").split(" "), [...words, "short", "one", "x".repeat(450)]);
});

test("feeding, measuring, moving, dying", () => {
  const food = { food: "squid", batch: "B-7", batchId: of("food"), amount_g: 4, pieces: 2 };
  for (const eaten of animals.EATEN) valid(animals.animalFed({ animal: of("animal"), label: "Y-12", food, eaten }));
  for (const eaten of animals.TANK_EATEN) valid(animals.tankFed({ tank: of("tank"), label: "N1", foods: [food, { food: "krill" }], eaten, asLast: true }));
  valid(animals.measured({ animal: of("animal"), label: "Y-12", length_cm: 20.5, basis: "disc width", lengthHow: "from a photo", mass_g: 31, massHow: "in water" }));
  valid(animals.measured({ animal: of("animal"), label: "Y-12", mass_g: 31 }));
  valid(animals.moved({ animal: of("animal"), label: "Y-12", from: of("tank"), to: of("tank", "1"), toLabel: "R2" }));
  for (const went of animals.WENT) valid(animals.introduced({ animal: of("animal"), label: "Y-12", to: of("tank"), toLabel: "R2", with: [of("animal", "1")], purpose: "rearing", went }));
  for (const side of animals.BODY_SIDES) valid(animals.photographed({ animal: of("animal"), label: "Y-12", photo: PHOTO, side, remark: "taken 2026-03-01T08:00:00Z" }));
  valid(animals.observed({ animal: of("animal"), label: "Y-12", signs: [], tank: of("tank") }));
  valid(animals.observed({ animal: of("animal"), label: "Y-12", signs: [...animals.SIGNS] }));
  for (const how of animals.DEATHS_KNOWN) {
    for (const body of animals.BODIES) {
      const notes = animals.died({ animal: of("animal"), label: "Y-12", how, lastSeen: "2026-03-01T08:00:00Z", cause: "not determined", body, where: "freezer 2", told: "veterinarian" });
      notes.forEach(valid);
      assert.equal(notes.length, animals.hasPlace(body) ? 2 : 1);
    }
  }
});

test("every quantity at both ends of what a note can hold", () => {
  for (const quantity of house.QUANTITIES) {
    for (const value of [quantity.least, quantity.most]) valid(house.waterMeasured({ subject: of("system"), label: "System A", instrument: "probe 3", quantity, value, phScale: "NBS", point: "sump" }));
    const schema = ajv.getSchema("water.measured.v1.schema.json");
    for (const value of [quantity.least - 1, quantity.most + 1]) {
      assert.ok(!schema({ [quantity.member]: value, ...(quantity.member === "ph" ? { ph_scale: "NBS" } : {}), instrument: "probe 3" }), `${quantity.member} ${value}`);
    }
  }
  valid(house.waterMeasured({ subject: of("tank"), label: "N1", instrument: "probe 3", quantity: /** @type {any} */ (house.QUANTITIES[2]), value: 8.1 }));
});

test("a value far off is asked about again, and can be signed all the same", () => {
  const temperature = /** @type {any} */ (house.QUANTITIES[0]);
  const band = house.usualBand("tropical", "temperature_c");
  assert.equal(house.askAgain(temperature, 25, { last: 24.6, band }), null);
  assert.match(house.askAgain(temperature, 29, { last: 24.6, band }) ?? "", /outside the band 23 to 27/);
  assert.match(house.askAgain(temperature, 26.5, { last: 24.6, band }) ?? "", /last value was 24.6/);
  assert.equal(house.usualBand("tropical", "nitrate_mg_l_n"), null);
});

test("incidents, equipment, hand-over, signatures beside", () => {
  for (const what of house.INCIDENTS) valid(house.incidentOpened({ incident: of("incident"), label: "I-3", what, summary: "lights out at 4", about: [of("tank")], told: "curator" }));
  valid(house.incidentNoted({ incident: of("incident"), words: "back at 5" }));
  valid(house.incidentClosed({ incident: of("incident"), outcome: "all alive", cause: "breaker", prevention: "second circuit" }));
  for (const equipment of house.EQUIPMENT) valid(house.equipmentFaulted({ subject: of("system"), label: "System A", equipment, effects: [...house.EFFECTS] }));
  valid(house.handedOver({ to: of("person"), toName: "B", matters: [{ words: "look at E-014 again", about: of("egg") }, { words: "door sticks" }] }));
  assert.deepEqual(house.handedOver({ to: of("person"), toName: "B", matters: [] }).data.matters, []);
  valid(house.endorsed({ subject: "collection", seq: 4, bodySha256: "kxgoTCzmwMm+kIz7jNkqq77hq7QDafMZb13NdtGXHoA=", words: ["Read"] }));
});

test("what is recorded is put right by a note about the subject that was written, and whole", () => {
  const note = { id: `${ID}0`, kind: "egg.candled.v1", subject: of("egg"), time: "2026-03-01T08:00:00Z", data: { seen_into: true, band: 4, movement: "moving" }, standing: "stands" };
  valid(acts.takenBack(note, "Candled, band 4", "another case was in the hand"));
  valid(acts.restored(note, { id: `${ID}1` }, "Candled", "it was this one after all"));
  const first = acts.corrected(note, { data: { ...note.data, band: 5 } }, "band: 4 → 5", "tapped beside it");
  valid(first);
  assert.deepEqual(first.data.replacement, { data: { seen_into: true, band: 5, movement: "moving" } });
  // Put right before, by its time and its subject: the next act names both again, or they would fall back.
  const moved = { ...note, subject: of("egg", "2"), time: "2026-03-01T07:00:00Z", as_written: { subject: of("egg"), time: note.time, data: note.data } };
  const second = acts.corrected(moved, { data: { ...note.data, band: 5 } }, "band: 4 → 5", "tapped beside it");
  valid(second);
  assert.equal(second.saying.subject, of("egg"));
  assert.deepEqual(second.data.replacement, { time: moved.time, subject: moved.subject, data: { seen_into: true, band: 5, movement: "moving" } });
  for (const kind of ["policy.set.v1", "record.corrected.v1", "key.enrolled.v1"]) assert.ok(!acts.canPutRight({ kind }));
});

test("what a person can put right of a kind is read from its schema", () => {
  const common = ajv.getSchema("common.schema.json").schema;
  const members = acts.membersOf(ajv.getSchema("egg.candled.v1.schema.json").schema, common);
  const by = (/** @type {string} */ name) => members.find((member) => member.name === name);
  assert.deepEqual([by("band")?.form, by("band")?.least, by("band")?.most, by("band")?.whole], ["number", 0, 7, true]);
  assert.deepEqual(by("movement")?.options, ["moving", "still", "could not tell"]);
  assert.deepEqual([by("findings")?.form, by("seen_into")?.form, by("seen_into")?.required, by("remark")?.form], ["several", "yes or no", true, "words"]);
  assert.deepEqual([by("photo_sha256"), by("photo_taken_at"), by("published_stage")], [undefined, undefined, undefined]);
});

test("words are cut where a note ends, and carry no control characters", () => {
  assert.equal(cut("  abc ", 2), "ab");
  assert.equal(oneLine("a\u0007\nb"), "a b");
  assert.equal(short("x".repeat(70)).length, 60);
});

test("what stands on paper: each note has its moment, says so, and is whole", () => {
  const sheet = { label: "x".repeat(24), hash: "0123456789abcdef", size: 2_147_483_647 };
  const late = paper.paperReason(sheet, of("person"));
  assert.equal(late, `from paper: sheet 0123456789abcdef of ${sheet.label}, log size 2147483647, by ${of("person")}`);
  assert.ok([...late].length <= 200, "a note holds so many");
  assert.equal(paper.paperReason({ label: "Tray 1" }, ""), "from paper: a sheet of Tray 1 without a hash, by somebody who has no key here");
  const [at_ms, begun_ms] = [Date.UTC(2026, 10, 25, 8, 30), Date.UTC(2026, 10, 25, 8, 0)];
  const looks = [{ egg: of("egg", "1"), label: "E-1", entry: { band: 4, movement: "still", findings: ["cloudy"], words: " a hair crack " } }, { egg: of("egg", "2"), label: "E-2", entry: { band: null } }, { egg: of("egg", "3"), label: "E-3", entry: { band: 1 } }];
  const all = { tank: { id: of("tank"), label: "Tray 1" }, round: { id: of("round"), label: "Tray 1, 25 Nov", isOpen: false }, looks, left: [{ which: of("egg", "4"), reason: "no time" }], meant: [1, 2, 3, 4].map((one) => of("egg", String(one))), filled: 4, at_ms, begun_ms, late, group: "paper" };
  const notes = paper.paperNotes(all);
  notes.forEach(valid);
  assert.deepEqual(notes.map(({ type }) => type), ["tank.checked.v1", "round.opened.v1", "egg.candled.v1", "egg.candled.v1", "egg.candled.v1", "round.closed.v1"]);
  for (const { saying } of notes) assert.deepEqual([saying.late, saying.group, saying.correlation, saying.says.endsWith("from paper")], [late, "paper", of("round"), true]);
  assert.deepEqual(notes.map(({ saying }) => [saying.timeafter, saying.time]), [[undefined, "2026-11-25T08:00:00Z"], [undefined, "2026-11-25T08:00:00Z"], ...Array(3).fill(["2026-11-25T08:00:00Z", "2026-11-25T08:30:00Z"]), [undefined, "2026-11-25T08:30:00Z"]]);
  assert.equal(notes[2]?.saying.says, "E-1 · Long gill threads · still · cloudy · “a hair crack” · from paper");
  assert.deepEqual(notes[2]?.data, { seen_into: true, band: 4, movement: "still", findings: ["cloudy"], remark: "a hair crack" });
  assert.deepEqual([notes[3]?.data, notes[4]?.data.movement], [{ seen_into: false }, "could not tell"]);
  const within = paper.paperNotes({ ...all, round: { ...all.round, isOpen: true }, filled: undefined, begun_ms: at_ms });
  assert.deepEqual(within.map(({ type, saying }) => [type, saying.timeafter]), Array(3).fill(["egg.candled.v1", undefined]), "a round that is open goes on");
});

test("a row of paper says what it lacks, and nothing asserts movement that is not ticked", () => {
  assert.deepEqual([{}, { reason: "no time" }, { words: "  " }, { band: null }, { findings: ["cloudy"] }].map(paper.isEmpty), [true, true, true, false, false]);
  assert.deepEqual([{}, { band: 4, movement: "still" }, { band: 1 }, { band: null }, { band: 0 }].map(paper.missingOf), ["", "", "", "", ""]);
  assert.equal(paper.missingOf({ band: 4 }), "moving, still, or could not tell?");
  assert.equal(paper.missingOf({ movement: "moving" }), "which band is ticked?");
  assert.deepEqual(paper.entryWords({ band: 4 }), ["Long gill threads"]);
});

test("a round's label fits, however long the tray's is", () => {
  for (const label of ["T", "x".repeat(24), "ü".repeat(24)]) valid(rounds.roundOpened({ round: of("round"), label: rounds.roundLabel(label, "25 Nov"), what: "candling", eggs: [of("egg")], tanks: [of("tank")] }));
  assert.equal(rounds.roundLabel("Quarantine, north wall 12", "25 Nov"), "Quarantine, nort, 25 Nov");
});
