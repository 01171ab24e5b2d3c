// How a case comes, hatches, is opened or left.

import { draft, short } from "./note.js";

/** @import { Draft } from "./note.js" */

export const CASE_LOOKS = /** @type {const} */ (["whole", "damaged"]);
export const YOLK_LOOKS = /** @type {const} */ (["seen", "not seen", "could not see"]);
export const LAID = /** @type {const} */ (["pair", "single", "unknown"]);
export const PAIR_BASES = /** @type {const} */ (["same colour and condition", "seen laid together", "assumed", "unknown"]);

/** @param {{tank: string, label: string, found: number, whole?: boolean, group?: string}} search @returns {Draft} */
export function searched({ tank, label, found, whole = true, group }) {
  const words = found === 0 ? "none" : `${found} found`;
  return draft("tank.searched", tank, { eggs_found: found, whole_tank: whole }, [`${label}${whole ? "" : ", a part"} searched`, words], { group });
}

/**
 * @typedef {object} Found a case in the hand
 * @property {string} egg @property {string} label @property {string} look @property {string} yolk
 */

/**
 * @typedef {object} Collection what is the same for all cases of one find
 * @property {string} tank @property {string} tankLabel @property {string} species
 * @property {string} laid @property {string} pairBasis
 * @property {string[]} dams subjects of females that may have laid
 * @property {string} [toTank] @property {string} [toLabel]
 * @property {string} [since] the last search of the whole tank
 */

/**
 * Search and cases, one note each, taken back together.
 * @param {Found[]} cases @param {Collection} find @returns {Draft[]}
 */
export function collected(cases, find) {
  const group = find.tank;
  const first = cases[0];
  const notes = cases.map((one, index) => {
    const mate = find.laid === "pair" && index % 2 === 1 ? { egg: cases[index - 1]?.egg, basis: find.pairBasis } : undefined;
    const dam = find.dams.length > 0 ? { status: "candidates", animals: find.dams.map((animal) => ({ animal })), basis: `shared the water of ${find.tankLabel}` } : { status: "unknown" };
    const data = { label: one.label, species: find.species, from_tank: find.tank, laid: find.laid, pair_mate: mate, case: one.look, yolk: one.yolk, dam, to_tank: find.toTank };
    const laid = mate ? `pair, ${find.pairBasis}` : find.laid === "unknown" ? "how laid: cannot tell" : find.laid;
    const mothers = find.dams.length === 0 ? "mother not known" : find.dams.length === 1 ? "1 possible mother" : `${find.dams.length} possible mothers`;
    return draft("egg.collected", one.egg, data, [one.label, `case ${one.look}`, `yolk ${one.yolk}`, laid, mothers, find.toLabel ? `to ${find.toLabel}` : ""], { group, timeafter: find.since });
  });
  return first ? [searched({ tank: find.tank, label: find.tankLabel, found: cases.length, group }), ...notes] : [];
}

/** Where a case stands in a tray. @param {{egg: string, tank: string, tankLabel: string, place: string, placeLabel: string, group?: string}} put @returns {Draft} */
export function placed({ egg, tank, tankLabel, place, placeLabel, group }) {
  return draft("egg.moved", egg, { to_tank: tank, place }, [`To ${tankLabel}`, placeLabel], { group });
}

/**
 * A label after the last one: the number counted up, the rest kept.
 * @param {string[]} labels of the collection @returns {(count: number) => string}
 */
export function nextLabels(labels) {
  const numbered = labels.flatMap((label) => {
    const parts = /^(.*?)(\d+)$/.exec(label);
    return parts ? [{ head: parts[1] ?? "", digits: parts[2] ?? "", number: Number(parts[2]) }] : [];
  });
  const last = numbered.reduce((most, one) => (one.number > most.number ? one : most), { head: "E-", digits: "000", number: 0 });
  return (count) => `${last.head}${String(last.number + count).padStart(last.digits.length, "0")}`;
}

/**
 * @typedef {object} YoungOut
 * @property {string} animal @property {"alive"|"dead"} state @property {string} [label]
 * @property {number} [length_cm] @property {number} [mass_g] @property {string} [massHow] @property {string} [tank]
 */

/**
 * @param {{egg: string, how: string, young: YoungOut[], tankLabel?: string, oneOf?: string[], remark?: string, time?: string, timeafter?: string, late?: string}} hatch
 * @returns {Draft}
 */
export function hatched({ egg, how, young, tankLabel, oneOf = [], remark = "", time, timeafter, late }) {
  const shared = oneOf.length > 0 ? `From one of ${oneOf.join(", ")}; which was not told.` : "";
  const data = { how_known: how, young: young.map(youngOf), remark: [shared, remark].filter((part) => part !== "").join(" ") };
  const words = young.length === 0 ? ["Case empty, young not found"] : young.map(youngWords);
  const drafted = draft("egg.hatched", egg, data, [how === "seen to hatch" ? "Hatched, seen" : `Hatched, ${how}`, ...words, tankLabel ? `to ${tankLabel}` : "", oneOf.length > 0 ? `one of ${oneOf.length} cases` : ""], { time, timeafter, late });
  return { ...drafted, data: { ...drafted.data, young: young.map(youngOf) } };
}

/** @param {YoungOut} young */
function youngOf({ animal, state, label, length_cm, mass_g, massHow, tank }) {
  const measured = length_cm === undefined ? {} : { length_cm, length_how: "measured" };
  const weighed = mass_g === undefined ? {} : { mass_g, mass_how: massHow ?? "drained" };
  return { animal, state, ...(label ? { label } : {}), ...measured, ...weighed, ...(tank ? { tank } : {}) };
}

/** @param {YoungOut} young */
const youngWords = ({ label, state, length_cm, mass_g, massHow }) => [`${label ?? "young"} ${state}`, length_cm === undefined ? "" : `${length_cm} cm`, mass_g === undefined ? "" : `${mass_g} g ${massHow ?? "drained"}`].filter((part) => part !== "").join(", ");

export const EXTENTS = /** @type {const} */ (["end slit widened", "end cut off", "window", "embryo lifted out"]);
export const LEFT_HOW = /** @type {const} */ (["closed again", "open in the water", "embryo out"]);
export const OUTCOMES = /** @type {const} */ (["hatched", "left to hatch", "found dead", "no embryo", "died during opening"]);
export const URGENT = /** @type {const} */ (["young trapped", "case torn or crushed", "water lost", "other"]);
export const AGAINST = /** @type {const} */ (["external yolk seen", "wide spread of the window", "few looks", "cool water", "embryo merely still", "moving and well", "other"]);

/**
 * @param {{egg: string, extent: string, knownDead: boolean, left: string, outcome: string, steps?: string[], stopped?: string, urgent?: string, criteria?: string[]}} opened
 * @returns {Draft}
 */
export function opened({ egg, extent, knownDead, left, outcome, steps, stopped, urgent, criteria }) {
  const data = { extent, known_dead: knownDead, steps, stopped_because: stopped, left, outcome, urgent_reason: urgent, criteria_met: criteria };
  return draft("egg.opened", egg, data, [knownDead ? "Examined, known dead before" : "Opened", extent, outcome, `left ${left}`, urgent ? `urgent: ${urgent}` : "", stopped ? `stopped: ${short(stopped, 30)}` : ""]);
}

export const PUT_DOWN_REASONS = /** @type {const} */ (["no embryo", "deformed", "programme advice", "no room", "duplicate parentage", "biosecurity", "other"]);
export const ALIVE = /** @type {const} */ (["yes", "no", "not known"]);

/**
 * A case that was put down by decision: who decided and why, never how.
 * @param {{egg: string, by: string[], names: string[], reason: string, alive: string, band?: number, authority: string, remark?: string}} down
 * @returns {Draft}
 */
export function putDown({ egg, by, names, reason, alive, band, authority, remark }) {
  const data = { decided_by: by, reason, alive, band_last_seen: band, authority, remark };
  const living = alive === "yes" ? "the embryo was alive" : alive === "no" ? "the embryo was not alive" : "not known whether the embryo was alive";
  return draft("egg.put_down", egg, data, ["Put down by decision", reason, living, `decided by ${names.join(", ")}`, short(authority, 40)]);
}

/** @param {{egg: string, reasons: string[], by: string[], criteria?: string[], hours?: number, expect?: number, assessment?: any, assessed?: string}} left @returns {Draft} */
export function leftToHatch({ egg, reasons, by, criteria, hours, expect, assessment, assessed = "" }) {
  const data = { reasons, criteria_met: criteria, decided_by: by, look_again_after_hours: hours, assessment };
  return draft("opening.left", egg, data, ["Left to hatch", reasons.join(", "), hours ? `look again in ${hours} h` : "", assessed], { expect });
}

/**
 * A decision of two: what must be met, who may open, until when. It waits until the other has signed.
 * @param {{egg: string, criteria: string[], persons: string[], from: string, to: string, extents?: string[], against?: string[], days: string, names: string[], assessment?: any, assessed?: string}} decision
 * @returns {Draft}
 */
export function openingAuthorised({ egg, criteria, persons, from, to, extents, against = [], days, names, assessment, assessed = "" }) {
  const data = { criteria, persons, from, to, extents, reasons_against: against, assessment };
  const weighed = against.length > 0 ? `against: ${against.join(", ")}` : "no reason against named";
  return draft("opening.authorised", egg, data, ["Opening decided, with a second person", `may open: ${names.join(", ")}`, days, `must be met: ${criteria.join(", ")}`, weighed, extents && extents.length > 0 ? extents.join(" or ") : "", assessed], { atOnce: true });
}
