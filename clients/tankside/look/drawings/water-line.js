// The water line: readings over the band that was asked for. Where nobody read for too long there is
// a gap, and it stays one; readings past their probe's calibration are hollow.

import { CannotDraw, at, counted, line, picture, plain, says, within } from "./ink.js";

const HEIGHT = 190;
const TOP = 26;
const BOTTOM = 158;
const LEFT = 44;
const DAY_MS = 86_400_000;

/** @typedef {{t_ms: number, value: number, hollow?: boolean}} WaterPoint */

/**
 * @param {WaterPoint[]} points in order of time
 * @param {{title: string, unit: string, band?: {low: number, high: number}|null, gapHours: number, dayWords: (t_ms: number) => string, width?: number}} how
 */
export function waterLine(points, how) {
  const { title, unit, band = null, gapHours, dayWords, width = 700 } = how;
  within("width", width, 240, 2000);
  within("gapHours", gapHours, 0.01, 24 * 366);
  checkPoints(points);
  if (band && !(within("band low", band.low, -1e6, 1e6) < within("band high", band.high, -1e6, 1e6))) throw new CannotDraw("the band's low end must lie below its high end");
  const desc = waterFinding(points, how);
  if (points.length === 0) return picture({ kind: "water", width, height: 60, title, desc }, says(8, 34, "no reading"));
  const scale = scaleOf(points, band, width);
  const pieces = runs(points, gapHours);
  const body = [bandOf(band, scale, unit), days(scale, dayWords), gaps(pieces, scale), pieces.map((run) => drawn(run, scale)).join(""), ends(scale, unit)];
  return picture({ kind: "water", width, height: HEIGHT, title, desc }, body.join(""));
}

/** @param {WaterPoint[]} points */
function checkPoints(points) {
  if (!Array.isArray(points)) throw new CannotDraw("points must be a list");
  points.forEach(({ t_ms, value }, index) => {
    within("t_ms", t_ms, -8.64e15, 8.64e15);
    within("value", value, -1e6, 1e6);
    const before = points[index - 1];
    if (before && before.t_ms > t_ms) throw new CannotDraw("points must be in order of time");
  });
}

/** Readings that belong together. @param {WaterPoint[]} points @param {number} gapHours */
export function runs(points, gapHours) {
  /** @type {WaterPoint[][]} */ const pieces = [];
  for (const point of points) {
    const last = pieces.at(-1);
    const before = last?.at(-1);
    if (last && before && point.t_ms - before.t_ms <= gapHours * 3_600_000) last.push(point);
    else pieces.push([point]);
  }
  return pieces;
}

/** @param {WaterPoint[]} points @param {{low: number, high: number}|null} band @param {number} width */
function scaleOf(points, band, width) {
  const values = points.map(({ value }) => value).concat(band ? [band.low, band.high] : []);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const spare = (high - low) * 0.12 || 1;
  const from = /** @type {WaterPoint} */ (points[0]).t_ms;
  const to = Math.max(/** @type {WaterPoint} */ (points.at(-1)).t_ms, from + 3_600_000);
  const right = width - 10;
  return {
    from, to, right, low, high,
    x: (/** @type {number} */ t_ms) => LEFT + ((t_ms - from) / (to - from)) * (right - LEFT),
    y: (/** @type {number} */ value) => BOTTOM - ((value - low + spare) / (high - low + 2 * spare)) * (BOTTOM - TOP),
  };
}

/** @typedef {ReturnType<typeof scaleOf>} Scale */

/** @param {{low: number, high: number}|null} band @param {Scale} scale @param {string} unit */
function bandOf(band, { y, right }, unit) {
  if (!band) return says(LEFT, 14, "no band is set");
  const edges = [band.high, band.low].map((value) => `<path class="wanted-edge" d="M${LEFT} ${at(y(value))}H${at(right)}"/>${says(LEFT - 6, y(value) + 4, plain(value, 2), { anchor: "end" })}`);
  return `<rect class="wanted" x="${LEFT}" y="${at(y(band.high))}" width="${at(right - LEFT)}" height="${at(y(band.low) - y(band.high))}"/>${edges.join("")}${says(LEFT, 14, `band ${plain(band.low, 2)} to ${plain(band.high, 2)} ${unit}`)}`;
}

/** @param {Scale} scale @param {(t_ms: number) => string} dayWords */
function days({ from, to, right, x }, dayWords) {
  const count = (to - from) / DAY_MS;
  const every = Math.max(1, Math.ceil(count / ((right - LEFT) / 64)));
  let drawn = "";
  for (let day = 0; day <= count; day += every) {
    const t_ms = from + day * DAY_MS;
    drawn += `<path class="grid-line" d="M${at(x(t_ms))} ${TOP}V${BOTTOM}"/>${says(x(t_ms), BOTTOM + 18, dayWords(t_ms), { anchor: day === 0 ? "start" : "middle" })}`;
  }
  return `${drawn}<path class="axis" d="M${LEFT} ${BOTTOM}H${at(right)}"/>`;
}

/** @param {WaterPoint[][]} pieces @param {Scale} scale */
function gaps(pieces, { x }) {
  return pieces.slice(1).map((run, index) => {
    const [from, to] = [x(/** @type {WaterPoint} */ (/** @type {WaterPoint[]} */ (pieces[index]).at(-1)).t_ms), x(/** @type {WaterPoint} */ (run[0]).t_ms)];
    return `<path class="missing" d="M${at(from)} ${TOP}H${at(to)}"/>${to - from > 60 ? says((from + to) / 2, TOP + 16, "no reading", { anchor: "middle" }) : ""}`;
  }).join("");
}

/** @param {WaterPoint[]} run @param {Scale} scale */
function drawn(run, { x, y, from, to }) {
  const path = run.length > 1 ? `<path class="water" d="${line(run.map(({ t_ms, value }) => [x(t_ms), y(value)]))}"/>` : "";
  const close = run.length > 80 || (to - from) / run.length < 3_600_000;
  const dots = run.filter(({ hollow }) => hollow || run.length === 1 || !close);
  return path + dots.map(({ t_ms, value, hollow }) => `<circle class="reading${hollow ? " reading-hollow" : ""}" cx="${at(x(t_ms))}" cy="${at(y(value))}" r="3"/>`).join("");
}

/** @param {Scale} scale @param {string} unit */
const ends = ({ right }, unit) => says(right, 14, unit, { anchor: "end", kind: "strong" });

/**
 * @param {WaterPoint[]} points
 * @param {{unit: string, band?: {low: number, high: number}|null, gapHours: number}} how
 */
export function waterFinding(points, { unit, band = null, gapHours }) {
  if (points.length === 0) return "No reading.";
  const values = points.map(({ value }) => value);
  const last = /** @type {WaterPoint} */ (points.at(-1));
  const parts = [`${counted(points.length, "reading")}, ${plain(Math.min(...values), 3)} to ${plain(Math.max(...values), 3)} ${unit}, last ${plain(last.value, 3)} ${unit}`];
  if (band) {
    const out = values.filter((value) => value < band.low || value > band.high).length;
    parts.push(out === 0 ? "all within the band" : `${out} outside the band ${plain(band.low, 2)} to ${plain(band.high, 2)}`);
  } else parts.push("no band is set");
  const hollow = points.filter((point) => point.hollow).length;
  if (hollow > 0) parts.push(`${hollow} past calibration`);
  const missing = runs(points, gapHours).length - 1;
  if (missing > 0) parts.push(counted(missing, "gap"));
  return `${parts.join("; ")}.`;
}
