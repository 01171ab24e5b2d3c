// Rounds, counts of trays, the walk past the tanks.

import { LABEL_MAX, cut, draft, short } from "./note.js";

/** @import { Draft } from "./note.js" */

/** As many cases as one `round.opened` names, and as one `round.closed` names left. */
export const ROUND_CASES_MAX = 300;
export const LEFT_MAX = 150;

export const LEFT_REASONS = /** @type {const} */ (["not found", "left in peace", "resting after laying", "no time", "could not be reached", "held apart", "decided otherwise", "other"]);
export const TANK_FINDINGS = /** @type {const} */ (["not eating", "hatched", "dead", "missing", "injured", "fighting", "jumped out", "fouled", "water", "equipment", "other"]);

/** What a round through one tray is called: a long label is cut, the day stays. @param {string} tankLabel @param {string} dayWords */
export const roundLabel = (tankLabel, dayWords) => `${cut(tankLabel, LABEL_MAX - [...dayWords].length - 2)}, ${dayWords}`;

/** @param {{round: string, label: string, what: string, eggs?: string[], tanks?: string[]}} round @returns {Draft} */
export function roundOpened({ round, label, what, eggs, tanks }) {
  const count = eggs ? `${eggs.length} cases` : tanks ? `${tanks.length} tanks` : "";
  return draft("round.opened", round, { label, what, eggs, tanks }, ["Begin the round", label, count], { correlation: round });
}

/**
 * @param {{round: string, filled: number, lookedAt: number, left: {which: string, reason: string}[]}} round
 * @returns {Draft}
 */
export function roundClosed({ round, filled, lookedAt, left }) {
  const named = left.map(({ which, reason }) => ({ which, reason }));
  const data = { not_looked_at: named, remark: `Places filled ${filled}, looked at ${lookedAt}.` };
  const drafted = draft("round.closed", round, data, ["Close the round", `places filled ${filled}, looked at ${lookedAt}`, named.length > 0 ? `${named.length} left, with reason` : ""], { correlation: round });
  return { ...drafted, data: { ...drafted.data, not_looked_at: named } };
}

/** How many places are filled, counted with the eye. @param {{tank: string, filled: number, label: string, round?: string}} tray @returns {Draft} */
export function trayCounted({ tank, filled, label, round }) {
  return draft("tank.checked", tank, { all_well: true, cases_seen: filled, whole_tank: true }, [`${label}: places filled ${filled}`, "counted"], { correlation: round });
}

/** @param {{tank: string, label: string, round?: string}} walked @returns {Draft} */
export function allWell({ tank, label, round }) {
  return draft("tank.checked", tank, { all_well: true }, [label, "all well"], { correlation: round });
}

/**
 * @param {{tank: string, label: string, findings: string[], seen?: number, whole?: boolean, remark?: string, round?: string}} walked
 * @returns {Draft}
 */
export function notWell({ tank, label, findings, seen, whole = true, remark, round }) {
  const counted = seen === undefined ? {} : { animals_seen: seen, whole_tank: whole };
  const named = TANK_FINDINGS.filter((finding) => findings.includes(finding));
  const found = named.length === 0 ? { all_well: true } : { all_well: false, findings: named };
  const words = [label, named.length === 0 ? "all well" : named.join(", "), seen === undefined ? "" : `${seen} seen${whole ? ", whole tank" : ""}`, remark ? short(remark, 40) : ""];
  return draft("tank.checked", tank, { ...found, ...counted, remark }, words, { correlation: round });
}
