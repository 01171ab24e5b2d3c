// The hatch ribbon: one leaf an egg, from the day by which 5 % would have hatched to the day by which
// 95 % would. Its width is how unsure we are; it is a window with a probability, never a date. The
// grade stands beside it in words; without a forecast the reason does.

import { CannotDraw, at, counted, picture, plain, says, within, word } from "./ink.js";

export const GRADES = /** @type {const} */ (["fitted", "single", "house"]);
const GRADE_WORDS = { fitted: "fitted", single: "one source", house: "house days" };
const ROW = 34;
/** A row whose label stands above its leaf: on narrow glass, where labels are long. */
const ROW_ABOVE = 50;
/** The room that the words of one week want beside those of the next. */
const WEEK_PX = 54;
/** A letter's width at most, in the strong type of labels. */
const LETTER_PX = 7.6;
const TOP = 28;

/**
 * @typedef {object} Window in days from now
 * @property {number} p05 @property {number} p25 @property {number} p50 @property {number} p75 @property {number} p95
 */

/**
 * @typedef {object} RibbonRow
 * @property {string} label
 * @property {Window} [window]
 * @property {string} [grade] fitted, single or house
 * @property {string} [reason] why there is no window
 */

/**
 * @param {RibbonRow[]} rows
 * @param {{title: string, width?: number}} how width in pixels of the page
 */
export function hatchRibbon(rows, { title, width = 700 }) {
  if (!Array.isArray(rows)) throw new CannotDraw("rows must be a list");
  within("width", width, 240, 2000);
  rows.forEach(checkRow);
  const scale = scaleOf(rows, width);
  const height = TOP + Math.max(1, rows.length) * scale.row + 6;
  const body = grid(scale, height) + rows.map((row, index) => drawRow(row, TOP + index * scale.row, scale)).join("");
  const now = `<path class="now-line" d="M${at(scale.x(0))} ${TOP - 8}V${height - 4}"/>`;
  return picture({ kind: "ribbon", width, height, title, desc: ribbonFinding(rows) }, body + now);
}

/** @param {RibbonRow} row */
function checkRow({ label, window, grade, reason }) {
  if (!window) {
    if (!reason) throw new CannotDraw(`${label}: without a window the reason must be said`);
    return;
  }
  word(`${label}: grade`, grade, GRADES);
  const days = [window.p05, window.p25, window.p50, window.p75, window.p95].map((day) => within(`${label}: days`, day, -2000, 4000));
  if (days.some((day, index) => index > 0 && day < /** @type {number} */ (days[index - 1]))) throw new CannotDraw(`${label}: the days of a window must not go back`);
}

/** @param {RibbonRow[]} rows @param {number} width */
function scaleOf(rows, width) {
  const days = rows.flatMap(({ window }) => (window ? [window.p05, window.p95] : []));
  const first = Math.min(0, ...days) - 2;
  const last = Math.max(28, ...days) + 2;
  const narrow = width < 520;
  const label_px = Math.max(0, ...rows.map(({ label }) => [...label].length)) * LETTER_PX;
  const above = narrow && label_px > 56;
  const [left, right] = above ? [8, width - 8] : narrow ? [58, width - 8] : [Math.max(86, Math.min(width / 3, label_px + 24)), width - 92];
  return { first, last, left, right, narrow, above, row: above ? ROW_ABOVE : ROW, x: (/** @type {number} */ day) => left + ((day - first) / (last - first)) * (right - left) };
}

/** @typedef {ReturnType<typeof scaleOf>} Scale */

/** @param {Scale} scale @param {number} height */
function grid({ first, last, left, right, x }, height) {
  const weeks = (last - first) / 7;
  const every = 7 * Math.max(1, Math.ceil((weeks * WEEK_PX) / (right - left)));
  let lines = "";
  for (let day = Math.ceil(first / every) * every; day <= last; day += every) {
    const words = day === 0 ? "now" : `${day > 0 ? "+" : "−"}${Math.abs(day) / 7} wk`;
    lines += `<path class="grid-line" d="M${at(x(day))} ${TOP - 8}V${height - 4}"/>${says(x(day), 12, words, { anchor: "middle", kind: day === 0 ? "strong" : "" })}`;
  }
  return lines;
}

/** @param {RibbonRow} row @param {number} y @param {Scale} scale */
function drawRow({ label, window, grade, reason }, y, { x, left, right, narrow, above }) {
  const middle = above ? y + 34 : y + ROW / 2;
  const name = says(narrow ? 0 : left - 12, above ? y + 14 : middle + 4, label, { anchor: narrow ? "start" : "end", kind: "strong" });
  if (!window) return name + says(narrow ? left + 4 : Math.max(left, x(0)) + 6, middle + 4, `not known: ${reason ?? ""}`);
  const outer = leaf(x(window.p05), x(window.p50), x(window.p95), middle, 11);
  const inner = leaf(x(window.p25), x(window.p50), x(window.p75), middle, 7);
  const words = GRADE_WORDS[/** @type {"fitted"|"single"|"house"} */ (grade)];
  const room = x(window.p95) + 62 < right;
  const graded = narrow ? says(room ? x(window.p95) + 5 : x(window.p05) - 5, middle + 4, words, { anchor: room ? "start" : "end" }) : says(right + 12, middle + 4, words);
  const late = window.p95 < 0 ? " past" : "";
  return `${name}<path class="leaf${late}" d="${outer}"/><path class="leaf-inner" d="${inner}"/><path class="leaf-middle" d="M${at(x(window.p50))} ${middle - 8}v16"/>${graded}`;
}

/** @param {number} from @param {number} middle @param {number} to @param {number} y @param {number} half */
const leaf = (from, middle, to, y, half) => `M${at(from)} ${at(y)}Q${at(middle)} ${at(y - half * 2)} ${at(to)} ${at(y)}Q${at(middle)} ${at(y + half * 2)} ${at(from)} ${at(y)}Z`;

/** @param {RibbonRow[]} rows */
export function ribbonFinding(rows) {
  const windows = rows.flatMap(({ label, window }) => (window ? [{ label, ...window }] : []));
  const without = rows.length - windows.length;
  const first = windows.toSorted((a, b) => a.p50 - b.p50)[0];
  const parts = [first ? `${counted(windows.length, "egg")} with a window; ${first.label} is next, between ${day(first.p05)} and ${day(first.p95)}, middle ${day(first.p50)}` : "No egg has a window"];
  const past = windows.filter(({ p95 }) => p95 < 0);
  if (past.length > 0) parts.push(`past its window: ${past.map(({ label }) => label).join(", ")}`);
  if (without > 0) parts.push(`${counted(without, "egg")} not known`);
  return `${parts.join("; ")}.`;
}

/** @param {number} days */
function day(days) {
  const whole = Math.round(days);
  if (whole === 0) return "today";
  return whole > 0 ? `in ${counted(whole, "day")}` : `${counted(-whole, "day")} ago`;
}

/** @param {Window} window */
export const windowWords = (window) => `${day(window.p05)} to ${day(window.p95)}, half of such eggs by ${day(window.p50)} (${plain(window.p95 - window.p05, 0)} days wide)`;
