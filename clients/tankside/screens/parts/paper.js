// A round sheet between the record and paper: what is printed, how a sheet is found again, and what has
// become of its cases since. Pure.

import { BANDS } from "../../look/drawings/bands.js";
import { clock, fromLocal, instant, localText, moment, ms } from "./days.js";
import { isOpen } from "./open.js";
import { cellsOf } from "./tray.js";

/** How many characters the hash of a page has. */
export const PAGE_HASH_CHARS = 16;
const MINUTE_MS = 60_000;

/**
 * A sheet as `/v1/rounds/sheet` answers it, or as this device draws it off line.
 * @typedef {object} RoundSheet
 * @property {string} tank @property {string} label
 * @property {{label?: string, row?: string, cases: SheetCase[]}[]} places
 * @property {number} cases
 * @property {string} [page_hash] @property {string} [name] none off line
 */

/**
 * @typedef {object} SheetCase
 * @property {string} egg @property {string} label
 * @property {string} [last_look] a day @property {number} [band] @property {string} [movement]
 * @property {boolean} [held_apart] @property {string[]} [due]
 * @property {string[]} [suspected] notes behind it by a key under suspicion
 */

/**
 * A sheet that was printed from this device.
 * @typedef {object} Printed
 * @property {RoundSheet} item @property {number} known_at @property {string} as_of
 * @property {number} suspected notes known then that were recorded while their author's key was suspected
 */

/** The sheet of a tray as this device knows it, without a service. @param {any} tank @param {any[]} eggs @param {string} zone @returns {RoundSheet} */
export function sheetHere(tank, eggs, zone) {
  const cells = cellsOf(tank, eggs);
  const places = /** @type {RoundSheet["places"]} */ ([]);
  for (const { key, label, row, place, egg } of cells) {
    const last = egg?.looks.at(-1);
    const found = egg ? [{ egg: key, label: egg.label, ...(last ? { last_look: localText(last.time, zone).slice(0, 10), band: last.band, movement: last.movement } : {}), held_apart: Boolean(egg.held_apart) }] : [];
    const before = places.at(-1);
    if (place && before && before.label === label && found.length > 0 && before.cases.length > 0) before.cases.push(...found);
    else places.push({ ...(label ? { label } : {}), ...(row ? { row } : {}), cases: found });
  }
  return { tank: tank.id, label: tank.label, places, cases: cells.filter(({ egg }) => egg).length };
}

/** Where it stands. @param {{label?: string, row?: string}} place */
export const placeWords = ({ label, row }) => (label ? [row, label].filter((part) => part && !(part !== label && label.startsWith(part))).join(" · ") : "in no place");

/** @param {number|undefined} band @param {string|undefined} movement */
export const bandWords = (band, movement) => (band === undefined ? "could not see in" : [BANDS[band]?.label.toLowerCase() ?? `band ${band}`, movement ?? ""].filter((part) => part !== "").join(", "));

/** What a sheet says of the last look at a case. @param {SheetCase} one @param {(day: string) => string} dayWords */
export const lastWords = ({ last_look, band, movement, held_apart, suspected = [] }, dayWords) => `${last_look ? `${bandWords(band, movement)}, ${dayWords(last_look)}` : "not looked at yet"}${held_apart ? " · held apart" : ""}${suspected.length > 0 ? " · suspected" : ""}`;

/** What the code on a sheet says. @param {{tank: string, hash: string, size: number, printed: string}} sheet printed: 2026-11-25T14:05 by the house's clock */
export const codeOf = ({ tank, hash, size, printed }) => `sheet ${hash} of ${tank}, log size ${size}, as of ${printed.replace("T", " ")}`;

/** What such a code, or the line at the foot of a sheet, names. @param {string} text */
export function readCode(text) {
  const found = /sheet ([0-9a-f]{16}) of (.+), log size (\d+)(?:, as of (\d{4}-\d\d-\d\d)[ T](\d\d:\d\d))?/.exec(text);
  if (!found) return null;
  const [, hash = "", of = "", size = "", day, time] = found;
  return { hash, tank: of.startsWith("tank/") ? of : "", size: Number(size), printed: day ? `${day}T${time}` : "" };
}

/**
 * Where the service answers the very sheet again. A sheet names its minute and no second: notes of that
 * minute were known to it, or not.
 * @param {{tank: string, size: number, printed_ms: number}} sheet @param {boolean} whole the whole minute
 */
export const sheetPath = ({ tank, size, printed_ms }, whole) => `/v1/rounds/sheet?tray=${tank.split("/")[1]}&known_at=${size}&as_of=${instant(Math.floor(printed_ms / MINUTE_MS) * MINUTE_MS + (whole ? MINUTE_MS - 1000 : 0))}`;

/**
 * When it was written, and what is wrong with that: each sentence names the field.
 * @param {{at: string, begun: string}} typed a day and a clock; a clock, or ""
 * @param {{now: number, zone: string, printed_ms: number|null}} known
 * @returns {{at_ms: number|null, begun_ms: number|null, wrong: string[]}}
 */
export function whenWritten({ at, begun }, { now, zone, printed_ms }) {
  const at_ms = fromLocal(at, zone);
  if (at_ms === null) return { at_ms, begun_ms: null, wrong: ["Written on paper at: put in the day and the clock that stand on the sheet."] };
  const said = moment(at_ms, zone);
  const before = (/** @type {number} */ time) => printed_ms !== null && time < Math.floor(printed_ms / MINUTE_MS) * MINUTE_MS;
  if (at_ms > now) return { at_ms: null, begun_ms: null, wrong: [`Written on paper at: ${said} lies in the future, it is ${moment(now, zone)} now. Put in the day and the clock that stand on the sheet.`] };
  if (before(at_ms)) return { at_ms: null, begun_ms: null, wrong: [`Written on paper at: ${said} lies before the sheet was printed, ${moment(printed_ms ?? 0, zone)}. Read the day and the clock once more, or name the right sheet.`] };
  const begun_ms = begun === "" ? null : fromLocal(`${at.slice(0, 10)}T${begun}`, zone);
  if (begun_ms !== null && begun_ms > at_ms) return { at_ms, begun_ms: null, wrong: [`Begun at: ${begun} lies after the end, ${clock(at_ms, zone)}. Put in the earlier clock, or leave it empty where the round went past midnight.`] };
  if (begun_ms !== null && before(begun_ms)) return { at_ms, begun_ms: null, wrong: [`Begun at: ${begun} lies before the sheet was printed, ${moment(printed_ms ?? 0, zone)}. Read the clock once more, or leave it empty.`] };
  return { at_ms, begun_ms, wrong: [] };
}

/**
 * A line of the form.
 * @typedef {object} Row
 * @property {string} key
 * @property {string} place
 * @property {SheetCase|null} on what the sheet says of its case; null for an empty place
 * @property {any} egg as this device knows it now; undefined where it does not
 * @property {boolean} extra it came to the tray after the sheet was made
 */

/** One row a case or empty place of the sheet, in its order; then cases that came since. @param {RoundSheet} sheet @param {any} tank @param {any[]} eggs @returns {Row[]} */
export function rowsOf(sheet, tank, eggs) {
  const byId = new Map(eggs.map((egg) => [egg.id, egg]));
  const rows = sheet.places.flatMap((place, at) => /** @type {Row[]} */ (place.cases.length === 0 ? [{ key: `empty ${at}`, place: placeWords(place), on: null, egg: undefined, extra: false }] : place.cases.map((on) => ({ key: on.egg, place: placeWords(place), on, egg: byId.get(on.egg), extra: false }))));
  const on = new Set(rows.map(({ key }) => key));
  const since = cellsOf(tank, eggs).filter(({ egg }) => egg && !on.has(egg.id));
  return [...rows, ...since.map(({ key, label, egg }) => ({ key, place: label || "in no place", on: { egg: key, label: egg.label }, egg, extra: true }))];
}

/** @param {{state: string, apparent_cause?: string}} fate */
const fateWord = ({ state }) => state.replaceAll("_", " ");

/**
 * When a case left the tray, as this device knows it; null while it is there.
 * @param {any} egg @param {string} tank
 */
export function leftAt(egg, tank) {
  if (!egg) return null;
  if (!isOpen(egg)) return ms(egg.fate.time ?? egg.fate.noticed?.time ?? egg.came.time);
  return egg.place?.tank === tank ? null : ms(egg.place?.since?.time ?? egg.came.time);
}

/**
 * What has become of a case since the sheet was made: said plainly, and nothing is written over.
 * @param {Row} row @param {{tank: string, labelOf: (id: string) => string, zone: string, made_ms: number|null}} known
 * @returns {string[]}
 */
export function sinceMade({ on, egg, extra }, { tank, labelOf, zone, made_ms }) {
  if (!on) return [];
  if (!egg) return [`${on.label} is not known on this device yet; the service knows it.`];
  if (extra) return [`${on.label} stands in this tray since ${moment(egg.place.since.time, zone)} and is not on the sheet.`];
  const left = leftAt(egg, tank);
  const gone = left === null ? [] : isOpen(egg) ? [`${on.label} is no longer in this tray: it stands in ${egg.place ? labelOf(egg.place.tank) : "no tank"} since ${moment(left, zone)}.`] : [`${on.label} is no longer in this tray: ${fateWord(egg.fate)}, ${moment(left, zone)}.`];
  const newer = egg.looks.filter((/** @type {any} */ look) => made_ms !== null && ms(look.time) > made_ms);
  const looks = newer.map((/** @type {any} */ look) => `${on.label} was looked at since: ${bandWords(look.band, look.movement)}, ${moment(look.time, zone)}.`);
  const held = egg.held_apart && !on.held_apart ? [`${on.label} is held apart since ${moment(egg.held_apart.since.time, zone)}: ${egg.held_apart.reason}.`] : [];
  return [...gone, ...looks, ...held];
}

/**
 * What speaks against a look of that moment. `wrong` cannot be noted; `beside` is said on the row.
 * @param {Row} row @param {{tank: string, zone: string, at_ms: number|null, begun_ms: number|null}} when
 * @returns {{wrong: string, beside: string[]}}
 */
export function againstLook({ on, egg, extra }, { tank, zone, at_ms, begun_ms }) {
  if (!on || !egg || at_ms === null) return { wrong: "", beside: [] };
  const from_ms = begun_ms ?? at_ms;
  const came = ms(egg.came.time);
  const laid = egg.laid_window?.not_before ? ms(egg.laid_window.not_before) : null;
  if (laid !== null && at_ms < laid) return { wrong: `Written on paper at: ${moment(at_ms, zone)} lies before ${on.label} was laid, not before ${moment(laid, zone)}. Read the day once more, or empty its row.`, beside: [] };
  if (at_ms < came) return { wrong: `Written on paper at: ${moment(at_ms, zone)} lies before ${on.label} was found or came here, ${moment(came, zone)}. Read the day once more, or empty its row.`, beside: [] };
  const left = leftAt(egg, tank);
  if (left !== null && !isOpen(egg) && left <= at_ms) return { wrong: `${on.label}: ${fateWord(egg.fate)} is recorded for ${moment(left, zone)}, before it was written on paper. Read the label and the day once more, or empty its row; what is recorded is put right from its history.`, beside: [] };
  const away = left !== null && left <= at_ms ? [`It stood elsewhere by then: is it this case?`] : [];
  const late = extra && ms(egg.place.since.time) > at_ms ? ["It came to this tray after that: is it this case?"] : [];
  const at = egg.looks.filter((/** @type {any} */ look) => ms(look.time) >= from_ms && ms(look.time) <= at_ms);
  const same = at.map((/** @type {any} */ look) => `A look is noted at that time already: ${bandWords(look.band, look.movement)}, ${moment(look.time, zone)}. Empty the row where paper says the same look.`);
  const newer = egg.looks.filter((/** @type {any} */ look) => ms(look.time) > at_ms).slice(-1);
  const kept = newer.map((/** @type {any} */ look) => `Looked at since, ${moment(look.time, zone)}: that look stays the newest, this one is noted at its own time before it.`);
  return { wrong: "", beside: [...away, ...late, ...same, ...kept] };
}

/** Whether a round that was begun at that moment has to account for a case. @param {Row} row @param {string} tank @param {number} from_ms */
export function isMeant({ on, egg, extra }, tank, from_ms) {
  if (!on) return false;
  if (extra) return ms(egg.place.since.time) <= from_ms;
  const left = leftAt(egg, tank);
  return left === null || left > from_ms;
}
