// Young and adults: fed, weighed, moved, put together, found dead.

import { draft, photoOf, short } from "./note.js";

/** @import { Draft } from "./note.js" */

export const EATEN = /** @type {const} */ (["all", "most", "some", "none", "spat out", "not seen"]);
export const TANK_EATEN = /** @type {const} */ (["all", "most", "some", "none", "not seen"]);

/**
 * @typedef {object} Food
 * @property {string} food in the house's words
 * @property {string} [batch] label of the batch @property {string} [batchId] `food/<ULID>`
 * @property {number} [amount_g] @property {number} [pieces]
 */

/** @param {Food} food */
const amounts = ({ food, amount_g, pieces }) => ({ food, ...(amount_g === undefined ? {} : { amount_g }), ...(pieces === undefined ? {} : { pieces }) });

/** @param {Food} food */
export const foodWords = ({ food, amount_g, pieces, batch }) => [food, amount_g === undefined ? "" : `${amount_g} g`, pieces === undefined ? "" : `${pieces} pieces`, batch ? `batch ${batch}` : ""].filter((part) => part !== "").join(", ");

/** @param {{animal: string, label: string, food: Food, eaten: string}} feed @returns {Draft} */
export function animalFed({ animal, label, food, eaten }) {
  return draft("animal.fed", animal, { offered: [amounts(food)], eaten, batch: food.batch }, [label, foodWords(food), eatenWords(eaten)]);
}

/** @param {string} eaten */
export const eatenWords = (eaten) => (eaten === "not seen" ? "not seen to eat" : eaten === "spat out" ? "spat out" : `ate ${eaten}`);

/** @param {{tank: string, label: string, foods: Food[], eaten: string, asLast?: boolean}} feed @returns {Draft} */
export function tankFed({ tank, label, foods, eaten, asLast = false }) {
  const offered = foods.map((food) => ({ ...amounts(food), ...(food.batchId ? { from_batch: food.batchId } : {}) }));
  return draft("tank.fed", tank, { offered, eaten }, [`${label}${asLast ? ", as last time" : ""}`, foods.map(foodWords).join("; "), eatenWords(eaten)]);
}

/** @param {{animal: string, label: string, length_cm?: number, basis?: string, lengthHow?: string, mass_g?: number, massHow?: string}} measured @returns {Draft} */
export function measured({ animal, label, length_cm, basis, lengthHow, mass_g, massHow }) {
  const length = length_cm === undefined ? {} : { length_cm, length_basis: basis ?? "total", length_how: lengthHow ?? "measured" };
  const mass = mass_g === undefined ? {} : { mass_g, mass_how: massHow ?? "drained" };
  const words = [label, length_cm === undefined ? "" : `${length_cm} cm ${basis ?? "total"}, ${lengthHow ?? "measured"}`, mass_g === undefined ? "" : `${mass_g} g ${massHow ?? "drained"}`];
  return draft("animal.measured", animal, { ...length, ...mass }, words);
}

/** @param {{animal: string, label: string, from?: string, to: string, toLabel: string, group?: string}} moved @returns {Draft} */
export function moved({ animal, label, from, to, toLabel, group }) {
  return draft("animal.moved", animal, { to_tank: to, from_tank: from }, [label, `to ${toLabel}`], { group });
}

export const PURPOSES = /** @type {const} */ (["rearing", "breeding", "display", "holding", "other"]);
export const WENT = /** @type {const} */ (["quiet", "chased", "bitten", "taken out again", "not watched"]);

/** @param {{animal: string, label: string, to: string, toLabel: string, with: string[], purpose: string, went: string, group?: string}} met @returns {Draft} */
export function introduced({ animal, label, to, toLabel, with: others, purpose, went, group }) {
  const data = { to_tank: to, together_with: others, purpose, went };
  return draft("animal.introduced", animal, data, [label, `met ${others.length > 0 ? others.length : "those"} in ${toLabel}`, `for ${purpose}`, went], { group });
}

export const BODY_SIDES = /** @type {const} */ (["left of the first dorsal fin", "right of the first dorsal fin", "left disc", "right disc", "whole body", "head", "tail", "other"]);

/** @param {{animal: string, label: string, photo: import("../../contracts.js").KeptPhoto, side: string, remark?: string}} shown @returns {Draft} */
export function photographed({ animal, label, photo, side, remark }) {
  const data = { what: "read", type: "natural pattern", place_on_body: side, ...photoOf(photo), remark };
  return draft("animal.identified", animal, data, [label, `photo, ${side}`]);
}

export const SIGNS = /** @type {const} */ (["not eating", "thin", "breathing fast", "at the surface", "lying on its back", "swimming oddly", "rubbing", "wound or mark", "swelling", "colour changed", "eye cloudy", "fin damaged", "keeping apart", "chased by others", "other"]);

/** @param {{animal: string, label: string, signs: string[], tank?: string, remark?: string}} seen @returns {Draft} */
export function observed({ animal, label, signs, tank, remark }) {
  const state = signs.length === 0 ? "as usual" : "not as usual";
  return draft("animal.observed", animal, { state, signs, tank, remark }, [label, state, signs.join(", ")]);
}

export const DEATHS_KNOWN = /** @type {const} */ (["found dead", "seen to die"]);
export const DEATH_CAUSES = /** @type {const} */ (["not determined", "never ate", "injury", "jumped out", "water or equipment incident", "illness", "after opening of the case", "killed by another animal", "other"]);
export const BODIES = /** @type {const} */ (["kept cold", "frozen", "fixed", "sent", "lost", "decomposed"]);
const KEPT_AS = /** @type {Record<string, string>} */ ({ "kept cold": "cold", frozen: "frozen", fixed: "fixed" });

/** Whether a body so kept has a place to be named. @param {string} body */
export const hasPlace = (body) => body in KEPT_AS;

/**
 * The death, and where the body is kept.
 * @param {{animal: string, label: string, how: string, lastSeen?: string, cause: string, body: string, where?: string, told?: string, remark?: string}} death
 * @returns {Draft[]}
 */
export function died({ animal, label, how, lastSeen, cause, body, where, told, remark }) {
  const data = { how_known: how, last_seen_alive: lastSeen, apparent_cause: cause, body, reported_to: told, remark };
  const death = draft("animal.died", animal, data, [label, how, `apparent cause: ${cause}`, `body ${body}`, told ? `told: ${short(told, 30)}` : ""]);
  const kept = KEPT_AS[body];
  return kept && where ? [death, draft("carcass.kept", animal, { how: kept, where }, [label, `body ${kept}`, short(where, 40)])] : [death];
}
