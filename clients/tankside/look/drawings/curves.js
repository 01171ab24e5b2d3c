// Survival and incidence: steps with what is uncertain beside them, and below how many were still
// watched. Each curve has its own dash and its name at its end; nothing rests on colour.

import { CannotDraw, at, counted, line, percent, picture, says, within } from "./ink.js";

const TOP = 14;
const FLOOR = 190;
const LEFT = 52;

/** @typedef {{from: number, to: number, survival: number, lower?: number|null, upper?: number|null}} Piece days; shares 0 to 1 */
/** @typedef {{name: string, steps: {at: number, value: number}[]}} Curve cumulative incidence */
/** @typedef {{at: number, count: number}} Watched */

/**
 * @param {Piece[]} pieces
 * @param {{title: string, watched?: Watched[], censored?: number[], unit?: string, who?: string, width?: number}} how
 */
export function survivalCurve(pieces, { title, watched = [], censored = [], unit = "days since hatch", who = "still watched", width = 640 }) {
  within("width", width, 240, 2000);
  if (!Array.isArray(pieces)) throw new CannotDraw("pieces must be a list");
  pieces.forEach(checkPiece);
  if (pieces.length === 0) return picture({ kind: "curve", width, height: 60, title, desc: "Not estimable: nobody was watched." }, says(8, 34, "not estimable: nobody was watched"));
  const last = /** @type {Piece} */ (pieces.at(-1));
  const scale = scaleOf(last.to, width);
  const edge = (/** @type {"lower"|"upper"} */ side) => pieces.flatMap((piece) => steps(piece.from, piece.to, piece[side] ?? piece.survival, scale));
  const certain = `<path class="certain" d="${line([...edge("upper"), ...edge("lower").reverse()])}Z"/>`;
  const curve = `<path class="curve" d="${line(pieces.flatMap(({ from, to, survival }) => steps(from, to, survival, scale)))}"/>`;
  const left = censored.map((day) => ticks(day, pieces, scale)).join("");
  const desc = survivalFinding(pieces);
  return picture({ kind: "curve", width, height: FLOOR + 66, title, desc }, grid(scale, unit) + certain + curve + left + below(watched, who, scale));
}

/** @param {Piece} piece */
function checkPiece({ from, to, survival, lower, upper }) {
  if (within("from", from, 0, 1e5) > within("to", to, 0, 1e5)) throw new CannotDraw("a piece must not end before it begins");
  [survival, lower ?? survival, upper ?? survival].forEach((share) => within("survival", share, 0, 1));
}

/** @param {Piece[]} pieces */
export function survivalFinding(pieces) {
  const last = pieces.at(-1);
  if (!last) return "Not estimable: nobody was watched.";
  const sure = typeof last.lower === "number" && typeof last.upper === "number" ? ` (95 %: ${percent(last.lower)} to ${percent(last.upper)})` : "";
  const half = pieces.find(({ survival }) => survival < 0.5);
  return `${percent(last.survival)}${sure} alive at day ${last.to}; ${half ? `half had died by day ${half.from}` : "fewer than half had died by then"}.`;
}

/**
 * @param {Curve[]} curves
 * @param {{title: string, watched?: Watched[], unit?: string, width?: number, to: number}} how
 */
export function incidenceCurves(curves, { title, watched = [], unit = "days since taken in", width = 640, to }) {
  within("width", width, 240, 2000);
  if (!Array.isArray(curves) || curves.length > 5) throw new CannotDraw("curves must be a list of at most five");
  const scale = scaleOf(within("to", to, 1, 1e5), width);
  curves.forEach(checkCurve);
  const ends = spread(curves.map((curve) => scale.y(valueAt(curve, to))), FLOOR - 4);
  const drawn = curves.map((curve, index) => {
    const points = path(curve, to, scale);
    return `<path class="curve curve-${index}" d="${line(points)}"/>${says(scale.right + 8, /** @type {number} */ (ends[index]) + 4, `${curve.name} ${percent(valueAt(curve, to))}`, { kind: "strong" })}`;
  });
  const room = picture({ kind: "curve", width: width + 170, height: FLOOR + 66, title, desc: incidenceFinding(curves, to) }, grid(scale, unit) + drawn.join("") + below(watched, "still open", scale));
  return room;
}

/** @param {Curve} curve */
function checkCurve({ name, steps: all }) {
  let before = { at: 0, value: 0 };
  for (const step of all) {
    within(`${name}: at`, step.at, before.at, 1e5);
    within(`${name}: value`, step.value, before.value, 1);
    before = step;
  }
}

/** @param {Curve} curve @param {number} day */
const valueAt = (curve, day) => curve.steps.filter((step) => step.at <= day).at(-1)?.value ?? 0;

/** @param {Curve[]} curves @param {number} to */
export function incidenceFinding(curves, to) {
  if (curves.length === 0) return "Nothing to show: no case was taken in.";
  const fates = curves.map((curve) => `${curve.name} ${percent(valueAt(curve, to))}`);
  const open = 1 - curves.reduce((sum, curve) => sum + valueAt(curve, to), 0);
  return `By day ${to}: ${fates.join(", ")}; still incubating ${percent(Math.max(0, open))}.`;
}

/** @param {number} last @param {number} width */
function scaleOf(last, width) {
  const right = width - 14;
  const to = Math.max(1, last);
  return { to, right, x: (/** @type {number} */ day) => LEFT + (day / to) * (right - LEFT), y: (/** @type {number} */ share) => FLOOR - share * (FLOOR - TOP) };
}

/** @typedef {ReturnType<typeof scaleOf>} Scale */

/** @param {number} from @param {number} to @param {number} share @param {Scale} scale @returns {[number, number][]} */
const steps = (from, to, share, { x, y }) => [[x(from), y(share)], [x(to), y(share)]];

/** @param {Curve} curve @param {number} to @param {Scale} scale @returns {[number, number][]} */
function path(curve, to, { x, y }) {
  let value = 0;
  /** @type {[number, number][]} */ const points = [[x(0), y(0)]];
  for (const step of curve.steps.filter((one) => one.at <= to)) {
    points.push([x(step.at), y(value)], [x(step.at), y(step.value)]);
    value = step.value;
  }
  return [...points, [x(to), y(value)]];
}

/** @param {Scale} scale @param {string} unit */
function grid({ to, right, x, y }, unit) {
  const shares = [0, 0.25, 0.5, 0.75, 1].map((share) => `<path class="grid-line" d="M${LEFT} ${at(y(share))}H${at(right)}"/>${says(LEFT - 6, y(share) + 4, percent(share), { anchor: "end" })}`);
  const days = marks(to, right).map((day) => `<path class="axis" d="M${at(x(day))} ${FLOOR}v5"/>${says(x(day), FLOOR + 19, String(day), { anchor: "middle" })}`);
  return `${shares.join("")}${days.join("")}${says((LEFT + right) / 2, FLOOR + 36, unit, { anchor: "middle" })}`;
}

/** @param {number} to @param {number} right */
function marks(to, right) {
  const wanted = Math.max(2, Math.floor((right - LEFT) / 80));
  const step = [1, 2, 5, 7, 10, 14, 30, 60, 90, 180, 365, 730].find((size) => to / size <= wanted) ?? to;
  return Array.from({ length: Math.floor(to / step) + 1 }, (_, index) => index * step);
}

/** @param {Watched[]} watched @param {string} who @param {Scale} scale */
function below(watched, who, { to, right, x }) {
  if (watched.length === 0) return "";
  const counts = marks(to, right).map((day) => {
    const known = watched.filter((one) => one.at <= day).at(-1);
    return known ? says(x(day), FLOOR + 56, String(known.count), { anchor: "middle" }) : "";
  });
  return says(0, FLOOR + 38, who, { kind: "strong" }) + counts.join("");
}

/** @param {number} day @param {Piece[]} pieces @param {Scale} scale */
function ticks(day, pieces, { x, y }) {
  const piece = pieces.find(({ from, to }) => from <= day && day <= to);
  return piece ? `<path class="left-watch" d="M${at(x(day))} ${at(y(piece.survival) - 5)}v10"/>` : "";
}

/** Names at the ends keep their distance, and stay above the words of the axis. @param {number[]} ys @param {number} lowest */
function spread(ys, lowest) {
  const order = ys.map((y, index) => ({ y, index })).sort((a, b) => a.y - b.y);
  order.forEach((one, index) => {
    const before = order[index - 1];
    if (before && one.y - before.y < 15) one.y = before.y + 15;
  });
  for (let [index, most] = [order.length - 1, lowest]; index >= 0; index -= 1, most -= 15) {
    const one = order[index];
    if (one) one.y = Math.min(one.y, most);
  }
  return order.toSorted((a, b) => a.index - b.index).map(({ y }) => y);
}

/** @param {number} deaths @param {number} n */
export const outOf = (deaths, n) => `${deaths} of ${counted(n, "young", "young")}`;
