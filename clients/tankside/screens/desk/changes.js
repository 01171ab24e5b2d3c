// What is otherwise than it was: two lists of cases compared. Pure.

import { BANDS } from "../../look/drawings/bands.js";
import { isHere, isOpen } from "../parts/open.js";

/**
 * What changed of each case, the ends first.
 * @param {any[]} before @param {any[]} after @returns {{what: any, says: string}[]}
 */
export function changedSince(before, after) {
  const then = new Map(before.map((egg) => [egg.id, egg]));
  const found = after.flatMap((egg) => {
    const says = changeOf(then.get(egg.id), egg);
    return says ? [{ what: egg, says, ended: !isOpen(egg) }] : [];
  });
  return found.sort((a, b) => Number(b.ended) - Number(a.ended) || a.what.label.localeCompare(b.what.label, "en", { numeric: true }));
}

/**
 * The same of animals: who came, who ended and how, who moved, who was first seen to eat.
 * @param {any[]} before @param {any[]} after @returns {{what: any, says: string}[]}
 */
export function animalsChangedSince(before, after) {
  const then = new Map(before.map((animal) => [animal.id, animal]));
  const found = after.flatMap((animal) => {
    const says = animalChange(then.get(animal.id), animal);
    return says ? [{ what: animal, says, ended: !isHere(animal) }] : [];
  });
  return found.sort((a, b) => Number(b.ended) - Number(a.ended) || (a.what.label ?? "").localeCompare(b.what.label ?? "", "en", { numeric: true }));
}

/** @param {any} before @param {any} after @returns {string|null} */
function animalChange(before, after) {
  if (!before) return after.origin?.how === "hatched" ? "hatched" : "came";
  if (before.fate.state !== after.fate.state) return `${words(after.fate.state)}${after.fate.apparent_cause ? `, apparent cause: ${after.fate.apparent_cause}` : ""}`;
  if (!before.first_eaten && after.first_eaten) return "first seen to eat";
  return before.place?.tank !== after.place?.tank ? "moved" : null;
}

/** @param {any} before @param {any} after @returns {string|null} */
function changeOf(before, after) {
  if (!before) return "came";
  if (before.fate.state !== after.fate.state) return `${words(after.fate.state)}${after.fate.apparent_cause ? `, apparent cause: ${after.fate.apparent_cause}` : ""}`;
  if (!before.held_apart && after.held_apart) return `held apart: ${after.held_apart.reason}`;
  if (before.held_apart && !after.held_apart) return "no longer held apart: seen alive";
  if (!before.slits_open && after.slits_open) return "slits open";
  if (before.band !== after.band && after.band !== undefined) return `${before.band === undefined ? "first seen into" : BANDS[before.band]?.label} → ${BANDS[after.band]?.label}`;
  if (before.place?.tank !== after.place?.tank) return "moved";
  return null;
}

/** @param {string} state */
const words = (state) => state.replaceAll("_", " ");

/** Open cases in each band; the ninth: not seen in yet. @param {any[]} eggs */
export function bandCounts(eggs) {
  const counts = Array.from({ length: BANDS.length + 1 }, () => 0);
  for (const egg of eggs.filter((one) => isOpen(one) && one.taken_in)) counts[egg.band ?? BANDS.length] = (counts[egg.band ?? BANDS.length] ?? 0) + 1;
  return counts;
}

/**
 * Cases lost since a moment by apparent cause, and of how many.
 * @param {any[]} eggs @param {number} from_ms
 */
export function lossesSince(eggs, from_ms) {
  const watched = eggs.filter((egg) => egg.taken_in && (isOpen(egg) || Date.parse(egg.fate.time) >= from_ms));
  /** @type {Map<string, string[]>} */ const causes = new Map();
  for (const { fate, label } of watched.filter((egg) => egg.fate.state === "lost")) causes.set(fate.apparent_cause, [...(causes.get(fate.apparent_cause) ?? []), label]);
  return { n: watched.length, lost: [...causes].map(([cause, labels]) => ({ cause, labels })).sort((a, b) => b.labels.length - a.labels.length) };
}
