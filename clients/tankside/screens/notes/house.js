// Water, incidents, equipment, and who takes over.

import { draft, short } from "./note.js";

/** @import { Draft } from "./note.js" */

/**
 * What a probe measures, and how its number stands in a note: unit and basis are part of the name.
 * `least` and `most` are what a note can hold; `step` is the finest digit on the keys.
 * `jump` asks again: a change from the last value that is worth a second look (our own choice).
 * @typedef {object} Quantity
 * @property {string} quantity as in instrument.installed
 * @property {string} member @property {string} name @property {string} unit
 * @property {number} least @property {number} most @property {number} jump
 */

/** @type {readonly Quantity[]} */
export const QUANTITIES = [
  { quantity: "temperature", member: "temperature_c", name: "Temperature", unit: "°C", least: -2, most: 40, jump: 1 },
  { quantity: "salinity", member: "salinity_psu", name: "Salinity", unit: "PSS-78", least: 0, most: 50, jump: 1.5 },
  { quantity: "pH", member: "ph", name: "pH", unit: "", least: 4, most: 11, jump: 0.3 },
  { quantity: "ammonia", member: "ammonia_total_mg_l_n", name: "Total ammonia", unit: "mg/L as N", least: 0, most: 10000, jump: 0.2 },
  { quantity: "nitrite", member: "nitrite_mg_l_n", name: "Nitrite", unit: "mg/L as N", least: 0, most: 10000, jump: 0.1 },
  { quantity: "nitrate", member: "nitrate_mg_l_n", name: "Nitrate", unit: "mg/L as N", least: 0, most: 100000, jump: 15 },
  { quantity: "oxygen", member: "oxygen_mg_l", name: "Oxygen", unit: "mg/L", least: 0, most: 100, jump: 1.5 },
  { quantity: "oxygen", member: "oxygen_percent", name: "Oxygen", unit: "% of saturation", least: 0, most: 1000, jump: 15 },
  { quantity: "pressure", member: "pressure_hpa", name: "Air pressure", unit: "hPa, not reduced", least: 300, most: 1200, jump: 30 },
];

export const PH_SCALES = /** @type {const} */ (["NBS", "total", "free", "unknown"]);

/** @param {Quantity} quantity @param {number} value @param {string} [scale] */
export const valueWords = (quantity, value, scale) => `${quantity.name} ${value}${quantity.member === "ph" ? `, ${scale === undefined || scale === "unknown" ? "scale not known" : `${scale} scale`}` : ` ${quantity.unit}`}`;

/** @param {{subject: string, label: string, instrument: string, quantity: Quantity, value: number, phScale?: string, point?: string, round?: string}} reading @returns {Draft} */
export function waterMeasured({ subject, label, instrument, quantity, value, phScale, point, round }) {
  const scale = quantity.member === "ph" ? { ph_scale: phScale ?? "unknown" } : {};
  const data = { [quantity.member]: value, ...scale, instrument, point };
  return draft("water.measured", subject, data, [label, valueWords(quantity, value, phScale), instrument, point ?? ""], { correlation: round, group: `${subject} ${quantity.member}` });
}

/**
 * Why a value is asked about again; null when it is as expected. Nothing is refused for it.
 * @param {Quantity} quantity @param {number} value
 * @param {{last?: number, band?: {low: number, high: number}|null}} known
 */
export function askAgain(quantity, value, { last, band }) {
  if (band && (value < band.low || value > band.high)) return `${value} ${quantity.unit} lies outside the band ${band.low} to ${band.high}.`;
  if (last !== undefined && Math.abs(value - last) > quantity.jump) return `The last value was ${last} ${quantity.unit}.`;
  return null;
}

/** Common practice, no source: bands of the water kinds where the house has set none (DOMAIN 6). */
export const USUAL_BANDS = /** @type {Record<string, Record<string, {low: number, high: number}>>} */ ({
  tropical: { temperature_c: { low: 23, high: 27 } },
  temperate: { temperature_c: { low: 10, high: 17 } },
  cold: { temperature_c: { low: 4, high: 10 } },
  any: { salinity_psu: { low: 30, high: 36 }, ph: { low: 7.8, high: 8.3 }, nitrite_mg_l_n: { low: 0, high: 0.1 }, oxygen_percent: { low: 80, high: 120 } },
});

/** @param {string} water @param {string} member */
export const usualBand = (water, member) => USUAL_BANDS[water]?.[member] ?? USUAL_BANDS.any?.[member] ?? null;

export const INCIDENTS = /** @type {const} */ (["power failure", "temperature", "oxygen", "water lost", "equipment", "contamination", "disease suspected", "animal escaped", "animal injured", "person hurt", "theft or damage", "record or data", "other"]);

/** @param {{incident: string, label: string, what: string, summary: string, about?: string[], told?: string, time?: string, late?: string}} opened @returns {Draft} */
export function incidentOpened({ incident, label, what, summary, about, told, time, late }) {
  return draft("incident.opened", incident, { label, what, summary, about, reported_to: told }, [what, short(summary, 40), about && about.length > 0 ? `${about.length} tanks or systems` : "", told ? `told: ${short(told, 30)}` : ""], { time, late, atOnce: true });
}

/** @param {{incident: string, words: string}} noted @returns {Draft} */
export const incidentNoted = ({ incident, words }) => draft("incident.noted", incident, { words }, ["Since then", short(words)]);

/** @param {{incident: string, outcome: string, cause?: string, prevention?: string}} closed @returns {Draft} */
export const incidentClosed = ({ incident, outcome, cause, prevention }) => draft("incident.closed", incident, { outcome, cause, prevention }, ["It is over", short(outcome)]);

export const EQUIPMENT = /** @type {const} */ (["pump", "chiller", "heater", "aeration", "skimmer", "filter", "ultraviolet", "ozone", "lighting", "power", "alarm", "probe", "pipework", "other"]);

/** @param {{subject: string, label: string, equipment: string, effects?: string[]}} fault @returns {Draft} */
export const equipmentFaulted = ({ subject, label, equipment, effects }) => draft("equipment.faulted", subject, { equipment, effects }, [label, `${equipment} failed`, (effects ?? []).join(", ")]);

export const EFFECTS = /** @type {const} */ (["no flow", "temperature drifting", "oxygen falling", "water lost", "current leaking", "no light", "no alarm", "none seen"]);

/** @param {{to: string, toName: string, matters: {words: string, about?: string}[]}} duty @returns {Draft} */
export function handedOver({ to, toName, matters }) {
  const listed = matters.map(({ words, about }) => ({ words, ...(about ? { about } : {}) }));
  const drafted = draft("duty.handed_over", "collection", { to, matters: listed }, [`Hand over to ${toName}`, listed.length === 1 ? "1 matter" : `${listed.length} matters`], { atOnce: true });
  return { ...drafted, data: { ...drafted.data, matters: listed } };
}

/** A signature beside an earlier note. @param {{subject: string, seq: number, bodySha256: string, words: string[]}} note @returns {Draft} */
export const endorsed = ({ subject, seq, bodySha256, words }) => draft("record.endorsed", subject, { seq, body_sha256: bodySha256 }, words, { group: `endorsed ${seq}` });
