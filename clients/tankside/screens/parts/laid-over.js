// What this device knows and the last answer does not: its own notes, laid over what was read. An
// answer that already knows a note (its seq lies below `known_at`) is left as it is. Pure.

import { ms } from "./days.js";

/** @import { LocalNote } from "../../contracts.js" */

/** @param {LocalNote[]} notes @param {number} knownAt the answer's `known_at` */
export const unknownTo = (notes, knownAt) => notes.filter(({ state, seq }) => state !== "refused" && !(state === "recorded" && seq !== undefined && seq < knownAt));

/**
 * Cases with what was noted here since.
 * @param {any[]} eggs @param {LocalNote[]} notes that the answer does not know @returns {any[]}
 */
export function eggsWith(eggs, notes) {
  const byId = new Map(eggs.map((egg) => [egg.id, egg]));
  for (const note of notes) {
    const before = byId.get(note.subject);
    const after = note.type === "egg.collected.v1" ? collected(note) : before && eggAfter(before, note);
    if (after) byId.set(note.subject, after);
  }
  return [...byId.values()];
}

/** @param {LocalNote} note */
const momentOf = ({ time, id }) => ({ time, event: id });

/** @param {LocalNote} note */
function collected(note) {
  const { label, species, to_tank, yolk } = note.data;
  const came = momentOf(note);
  const place = to_tank ? { place: { tank: to_tank, since: came }, taken_in: came } : {};
  return { id: note.subject, label, species, came, origin: { how: "collected" }, laid_window: { not_after: note.time, basis: "not known", event: note.id }, dam: { status: "unknown" }, sire: { status: "unknown" }, ...place, looks: [], yolk, openings: [], fate: { state: "open" }, discrepancies: [], here: note.state };
}

/** @type {Record<string, (egg: any, note: LocalNote) => any>} */
const AFTER = {
  "egg.candled.v1": (egg, note) => {
    const look = { ...momentOf(note), prompted: false, ...note.data, here: note.state };
    // What was written on paper comes in at its own time: a newer look stays the newest.
    const later = egg.looks.filter((/** @type {any} */ one) => ms(one.time) > ms(note.time));
    const looks = [...egg.looks.slice(0, egg.looks.length - later.length), look, ...later];
    const band = looks.findLast((/** @type {any} */ one) => one.band !== undefined)?.band ?? egg.band;
    return { ...egg, looks, band, held_apart: heldAfter(egg.held_apart, note) };
  },
  "egg.held_apart.v1": (egg, note) => ({ ...egg, held_apart: { since: momentOf(note), reason: note.data.reason, looks_since: 0 }, ...(note.data.to_tank ? { place: { tank: note.data.to_tank, since: momentOf(note) } } : {}) }),
  "egg.moved.v1": (egg, note) => ({ ...egg, place: { tank: note.data.to_tank, since: momentOf(note) }, placeId: note.data.place }),
  "egg.lost.v1": (egg, note) => ({ ...egg, fate: { state: "lost", ...momentOf(note), apparent_cause: note.data.apparent_cause } }),
  "egg.put_down.v1": (egg, note) => ({ ...egg, fate: { state: "put_down", ...momentOf(note) } }),
  "egg.missing.v1": (egg, note) => ({ ...egg, fate: { state: "missing", ...momentOf(note) } }),
  "egg.hatched.v1": (egg, note) => ({ ...egg, fate: { state: "hatched", ...momentOf(note), how_known: note.data.how_known, young: note.data.young } }),
};

/** A case held apart, after a look: one at it moving lifts that, one from before it says nothing of it. @param {any} held @param {LocalNote} note */
function heldAfter(held, note) {
  if (!held || ms(note.time) < ms(held.since.time)) return held;
  return note.data.movement === "moving" ? undefined : { ...held, looks_since: held.looks_since + 1, last_look: momentOf(note) };
}

/** @param {any} egg @param {LocalNote} note */
const eggAfter = (egg, note) => AFTER[note.type]?.(egg, note);

/**
 * Animals with what was noted here since: fed, measured, moved, died, hatched.
 * @param {any[]} animals @param {LocalNote[]} notes @returns {any[]}
 */
export function animalsWith(animals, notes) {
  const byId = new Map(animals.map((animal) => [animal.id, animal]));
  for (const note of notes) {
    if (note.type === "egg.hatched.v1") note.data.young.forEach((/** @type {any} */ young) => byId.set(young.animal, hatchling(young, note)));
    const before = byId.get(note.subject);
    const after = before && animalAfter(before, note);
    if (after) byId.set(note.subject, after);
  }
  return [...byId.values()];
}

/** @param {any} young @param {LocalNote} note */
function hatchling({ animal, state, label, tank, length_cm, mass_g, mass_how }, note) {
  const came = momentOf(note);
  const fate = state === "alive" ? { state: "present" } : { state: "dead_at_hatch", ...came };
  const measures = length_cm === undefined && mass_g === undefined ? [] : [{ ...came, length_cm, mass_g, mass_how }];
  return { id: animal, label, sex: "unknown", came, origin: { how: "hatched", egg: note.subject, alive: state === "alive" }, ...(tank ? { place: { tank, since: came } } : {}), feeds: 0, measures, fate, discrepancies: [], here: note.state };
}

/** @param {any} animal @param {LocalNote} note */
function animalAfter(animal, note) {
  const when = momentOf(note);
  switch (note.type) {
    case "animal.fed.v1": {
      const ate = ["all", "most", "some"].includes(note.data.eaten);
      return { ...animal, feeds: animal.feeds + 1, lastFedHere: { ...when, ...note.data }, ...(ate ? { last_eaten: when, first_eaten: animal.first_eaten ?? when } : {}) };
    }
    case "animal.measured.v1":
      return { ...animal, measures: [...animal.measures, { ...when, ...note.data }] };
    case "animal.moved.v1":
      return { ...animal, place: { tank: note.data.to_tank, since: when } };
    case "animal.died.v1":
      return { ...animal, fate: { state: "died", ...when, apparent_cause: note.data.apparent_cause } };
    default:
      return null;
  }
}

/** The newest local note of a kind about a subject. @param {LocalNote[]} notes @param {string} type @param {string} subject */
export const newestOf = (notes, type, subject) => notes.findLast((note) => note.type === type && note.subject === subject && note.state !== "refused") ?? null;
