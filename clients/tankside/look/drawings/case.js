// The case: an outline after its species, and in it what the torch shows, drawn from numbers: yolk
// by volume, embryo by length, gill threads, pattern, slits.

import { at, line, percent, picture, within, word } from "./ink.js";
import { bandOf, eyeOf } from "./bands.js";
import { OUTLINES } from "./outlines.js";

/** @import { Outline } from "./outlines.js" */

export const SHAPES = /** @type {const} */ (["horned", "tendrils", "fibres", "spiral", "plain"]);
const EYES = /** @type {const} */ (["none", "unpigmented", "dark rim", "pigmented"]);
/** Radius of a whole yolk; its volume goes with the cube. */
const YOLK_RADIUS = 14;
/** Below this length the embryo is a thread that lies on the yolk. */
const THREAD = 0.35;
/** The longest embryo, in lengths of the case: it lies curled. */
export const BODY_MAX = 1.4;

/**
 * @typedef {object} CaseNumbers
 * @property {string} [shape] form of the case; plain where the species' listing names none
 * @property {number} yolk share of the first volume, 0 to 1
 * @property {number} body length in lengths of the case, 0 to 1.4
 * @property {number} [gills] 0 to 1
 * @property {number} [pigment] 0 to 1
 * @property {string} [eye] none, unpigmented, dark rim, pigmented
 * @property {boolean} [slits] seen open
 * @property {boolean} [seen] false: nobody could see in
 * @property {string[]} [findings] odd things, added to the words
 * @property {string} [movement] added to the words
 */

/**
 * The numbers of a look: those of its band, and what else was seen.
 * @param {{band?: number, seen_into?: boolean, yolk_fraction?: number, findings?: string[], movement?: string, eye?: string}} look
 * @param {string} [shape] @returns {CaseNumbers}
 */
export function numbersOf(look, shape) {
  const { findings = [], movement } = look;
  const rest = { shape, findings, movement, slits: findings.includes("slits open") };
  if (look.band === undefined) return { ...rest, yolk: 0, body: 0, seen: false };
  const { yolk, body, gills, pigment } = bandOf(look.band);
  return { ...rest, yolk: look.yolk_fraction ?? yolk, body, gills, pigment, eye: look.eye ?? eyeOf(look.band) };
}

/**
 * @param {CaseNumbers} numbers
 * @param {{title?: string, desc?: string, silent?: boolean}} [words] what it says; else what can be told from the numbers
 */
export function drawCase(numbers, words = {}) {
  const outline = OUTLINES[word("shape", numbers.shape ?? "plain", SHAPES)];
  const seen = numbers.seen !== false;
  const inside = seen ? contents(numbers, outline) : `<path class="unseen-mark" d="M46 36h28" />`;
  const slits = numbers.slits ? outline.slits.map((d) => `<path class="slit" d="${d}"/>`).join("") : "";
  const head = { kind: "case", width: 120, height: 72, title: words.title ?? "Egg case", desc: words.desc ?? findingOf(numbers), silent: words.silent === true };
  const shell = `<path class="${seen ? "shell" : "shell shell-dark"}" d="${outline.shell}"/>`;
  return picture(head, `<path class="trim" d="${outline.trim}"/>${shell}<path class="ridge" d="${outline.ridge}"/>${inside}${slits}`);
}

/** What the numbers show, in words. @param {CaseNumbers} numbers */
export function findingOf(numbers) {
  const parts = numbers.seen === false ? ["could not see in"] : seenWords(numbers);
  if (numbers.slits && !numbers.findings?.includes("slits open")) parts.push("slits open");
  return [...parts, ...(numbers.findings ?? []), ...(numbers.movement ? [numbers.movement] : [])].join(", ");
}

/** @param {CaseNumbers} numbers */
function seenWords({ yolk, body, gills = 0, pigment = 0 }) {
  const share = yolk === 0 ? "no yolk" : `yolk ${percent(yolk)}`;
  const embryo = body === 0 ? "no embryo seen" : `embryo ${body.toFixed(1)} case lengths`;
  const more = [gills > 0 ? (gills > 0.6 ? "long gill threads" : "gill threads") : "", pigment > 0.5 ? "pattern on the skin" : ""];
  return [share, embryo, ...more.filter((part) => part !== "")];
}

/** @param {CaseNumbers} numbers @param {Outline} outline */
function contents(numbers, outline) {
  const yolk = within("yolk", numbers.yolk, 0, 1);
  const body = within("body", numbers.body, 0, BODY_MAX);
  const gills = within("gills", numbers.gills ?? 0, 0, 1);
  const pigment = within("pigment", numbers.pigment ?? 0, 0, 1);
  const eye = word("eye", numbers.eye ?? "none", EYES);
  const radius = YOLK_RADIUS * outline.fit * Math.cbrt(yolk);
  const [x, y] = outline.middle;
  const ball = radius > 0 ? `<circle class="yolk" cx="${at(x)}" cy="${at(y + 2)}" r="${at(radius)}"/>` : "";
  if (body === 0) return ball || `<path class="hollow" d="M${at(x - 9)} ${at(y + 2)}a9 6 0 1 0 18 0a9 6 0 1 0 -18 0"/>`;
  const spine = body < THREAD ? thread(body, radius, [x, y + 2]) : curl(body, outline);
  return ball + embryo(spine, { body, gills, pigment, eye, stalk: body >= THREAD && radius > 2 ? [x, y + 2] : null });
}

/** @typedef {[number, number]} Point */

/** A thread over the top of the yolk. @param {number} body @param {number} radius @param {Point} middle @returns {Point[]} */
function thread(body, radius, [x, y]) {
  const half = (body / THREAD) * 2;
  return Array.from({ length: 17 }, (_, step) => {
    const u = step / 16;
    const angle = -Math.PI / 2 - half + 2 * half * u;
    const away = radius * 0.98 + Math.sin(u * 9) * 0.8;
    return [x + away * Math.cos(angle), y + away * Math.sin(angle)];
  });
}

/** Curled along the wall, head up and to the left. @param {number} body @param {Outline} outline @returns {Point[]} */
function curl(body, { middle: [x, y], room: [wide, high] }) {
  const sweep = 1.5 + ((body - THREAD) / (BODY_MAX - THREAD)) * 3.7;
  return Array.from({ length: 41 }, (_, step) => {
    const angle = -2.35 + sweep * (step / 40);
    return [x + wide * Math.cos(angle), y + high * Math.sin(angle)];
  });
}

/**
 * A body that tapers from head to tail.
 * @param {Point[]} spine
 * @param {{body: number, gills: number, pigment: number, eye: string, stalk: Point|null}} how
 */
function embryo(spine, { body, gills, pigment, eye, stalk }) {
  const width = 1 + 2.4 * Math.min(1, body);
  const [left, right] = sides(spine, width);
  const head = /** @type {Point} */ (spine[0]);
  const belly = /** @type {Point} */ (spine[Math.floor(spine.length * 0.3)]);
  return [
    stalk ? `<path class="stalk" d="${line([belly, stalk])}"/>` : "",
    gills > 0 ? threads(spine, gills) : "",
    `<path class="embryo" d="${line([...left, ...right.reverse()])}Z"/>`,
    pigment > 0 ? saddles(spine, width, pigment) : "",
    `<circle class="embryo" cx="${at(head[0])}" cy="${at(head[1])}" r="${at(width * 1.25)}"/>`,
    eye === "none" ? "" : `<circle class="eye eye-${eye.replace(" ", "-")}" cx="${at(head[0])}" cy="${at(head[1])}" r="${at(Math.max(0.7, width * 0.42))}"/>`,
  ].join("");
}

/** @param {Point[]} spine @param {number} width @returns {[Point[], Point[]]} */
function sides(spine, width) {
  /** @type {Point[]} */ const left = [];
  /** @type {Point[]} */ const right = [];
  spine.forEach(([x, y], step) => {
    const [nx, ny] = normal(spine, step);
    const half = width * (1 - 0.86 * (step / (spine.length - 1)));
    left.push([x + nx * half, y + ny * half]);
    right.push([x - nx * half, y - ny * half]);
  });
  return [left, right];
}

/** Across the body, outward. @param {Point[]} spine @param {number} step @returns {Point} */
function normal(spine, step) {
  const [ax, ay] = /** @type {Point} */ (spine[Math.max(0, step - 1)]);
  const [bx, by] = /** @type {Point} */ (spine[Math.min(spine.length - 1, step + 1)]);
  const length = Math.hypot(bx - ax, by - ay) || 1;
  return [(by - ay) / length, -(bx - ax) / length];
}

/** Gill threads: they stand off behind the head, towards the yolk. @param {Point[]} spine @param {number} gills */
function threads(spine, gills) {
  const long = 3 + 8 * gills;
  const count = gills > 0.6 ? 5 : 3;
  return Array.from({ length: count }, (_, thread) => {
    const [x, y] = /** @type {Point} */ (spine[2 + thread]);
    const [nx, ny] = normal(spine, 2 + thread);
    const lean = (thread - (count - 1) / 2) * 1.6;
    return `<path class="gill" d="M${at(x)} ${at(y)}q${at(-nx * long * 0.5 + lean)} ${at(-ny * long * 0.4)} ${at(-nx * long + lean * 1.6)} ${at(-ny * long + lean)}"/>`;
  }).join("");
}

/** Saddles of the pattern. @param {Point[]} spine @param {number} width @param {number} pigment */
function saddles(spine, width, pigment) {
  const count = Math.round(2 + 5 * pigment);
  return Array.from({ length: count }, (_, saddle) => {
    const step = Math.round(((saddle + 0.8) / (count + 0.6)) * (spine.length - 1));
    const [x, y] = /** @type {Point} */ (spine[step]);
    const [nx, ny] = normal(spine, step);
    const half = width * (1 - 0.86 * (step / (spine.length - 1))) * 0.95;
    return `<path class="saddle" d="${line([[x + nx * half, y + ny * half], [x - nx * half, y - ny * half]])}"/>`;
  }).join("");
}
