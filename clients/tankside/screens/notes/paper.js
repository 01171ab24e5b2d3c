// What stands on a round sheet of paper, as notes. Each happened when it was written on paper, says so
// in its `latereason` (SPEC, choice 52), and is signed by whoever types it in. Pure.

import { FROM_PAPER } from "../../agreement/event.js";
import { bandOf } from "../../look/drawings/bands.js";
import { instant } from "../parts/days.js";
import { candled, movementOf } from "./candling.js";
import { without } from "./note.js";
import { ROUND_CASES_MAX, roundClosed, roundOpened, trayCounted } from "./rounds.js";

/** @import { Draft } from "./note.js" */

/**
 * What was typed in for one case, as far as it is typed.
 * @typedef {object} Entry
 * @property {number|null} [band] null: could not see in; absent: no box is ticked
 * @property {string} [movement]
 * @property {string[]} [findings]
 * @property {string} [words] the remark on paper
 * @property {string} [reason] why it was not looked at, where it is another than that of the rest
 */

/** Whether nothing of a look is typed in. @param {Entry} entry */
export const isEmpty = ({ band, movement, findings = [], words = "" }) => band === undefined && !movement && findings.length === 0 && words.trim() === "";

/** What of a look is still missing; "" where it is whole, or empty. @param {Entry} entry */
export function missingOf(entry) {
  if (isEmpty(entry)) return "";
  if (entry.band === undefined) return "which band is ticked?";
  return entry.band !== null && entry.band >= 2 && !entry.movement ? "moving, still, or could not tell?" : "";
}

/** What is typed in, in the words of the round's buttons. @param {Entry} entry */
export function entryWords(entry) {
  if (isEmpty(entry)) return ["Not looked at", entry.reason ?? ""].filter((part) => part !== "");
  const { band, movement = "" } = entry;
  const seen = band === undefined ? ["Band?", movement] : band === null ? ["Could not see in"] : [bandOf(band).label, band < 2 ? `movement: ${movementOf(band, movement)}` : movement];
  return [...seen, ...(entry.findings ?? []), entry.words?.trim() ? `“${entry.words.trim()}”` : ""].filter((part) => part !== "");
}

/**
 * Which sheet it is, as its foot says it; without a hash where there is none that can be read.
 * @param {{label: string, hash?: string, size?: number}} sheet
 */
export const sheetName = ({ label, hash, size }) => (hash ? `sheet ${hash} of ${label}, log size ${size}` : `a sheet of ${label} without a hash`);

/** Why such a note is written afterwards: which sheet, and by whom. No name of a person is in a note. @param {{label: string, hash?: string, size?: number}} sheet @param {string} by `person/<ULID>`, "" for somebody without a key */
export const paperReason = (sheet, by) => `${FROM_PAPER}${sheetName(sheet)}, by ${by || "somebody who has no key here"}`;

/**
 * @typedef {object} PaperRound
 * @property {{id: string, label: string}} tank
 * @property {{id: string, label: string, isOpen: boolean}} round one of its own, or one that is open
 * @property {{egg: string, label: string, entry: Entry}[]} looks
 * @property {{which: string, reason: string}[]} left
 * @property {string[]} meant cases that the round means to look at
 * @property {number} [filled] places filled, as counted on paper
 * @property {number} at_ms when it was finished
 * @property {number|null} begun_ms
 * @property {string} late
 * @property {string} group
 */

/** Every note of one sheet, in the order in which they are signed. @param {PaperRound} paper @returns {Draft[]} */
export function paperNotes({ tank, round, looks, left, meant, filled, at_ms, begun_ms, late, group }) {
  const [at, begun] = [instant(at_ms), instant(begun_ms ?? at_ms)];
  const since = begun === at ? undefined : begun;
  const say = (/** @type {Draft} */ { type, data, saying }, /** @type {string} */ about, /** @type {Record<string, any>} */ when) => ({ type, data, saying: { ...saying, says: [about, saying.says, "from paper"].filter((part) => part !== "").join(" · "), group, late, ...without(when) } });
  const seen = looks.map(({ egg, label, entry }) => say(candled({ egg, label, band: entry.band ?? null, movement: entry.movement ?? "", findings: entry.findings, words: entry.words?.trim(), round: round.id }), label, { time: at, timeafter: since }));
  const count = filled === undefined ? [] : [say(trayCounted({ tank: tank.id, filled, label: tank.label, round: round.id }), "", { time: begun })];
  if (round.isOpen) return [...count, ...seen];
  const opened = roundOpened({ round: round.id, label: round.label, what: "candling", eggs: meant.slice(0, ROUND_CASES_MAX), tanks: [tank.id] });
  const closed = roundClosed({ round: round.id, filled: filled ?? meant.length, lookedAt: looks.length, left });
  return [...count, say(opened, "", { time: begun }), ...seen, say(closed, "", { time: at })];
}
