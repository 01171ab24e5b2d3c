// The life strip: one case a look, in order, its proof mark beneath. What was not yet known at the
// moment asked about is faint and says so.

import { drawCase, findingOf, numbersOf } from "./case.js";
import { CannotDraw, at, counted, escaped, picture, says, within, word } from "./ink.js";

export const PROOFS = /** @type {const} */ (["checked", "recorded", "waiting", "put right", "taken back", "not yet known"]);
const FRAME = { width: 108, height: 112, case: 88 };

/**
 * @typedef {object} StripLook
 * @property {string} day as shown
 * @property {string} proof one of PROOFS
 * @property {number} [band] @property {boolean} [seen_into] @property {number} [yolk_fraction]
 * @property {string[]} [findings] @property {string} [movement] @property {string} [eye]
 */

/** What the strip shows, in words. @param {StripLook[]} looks */
export function stripFinding(looks) {
  const known = looks.filter(({ proof }) => proof !== "not yet known" && proof !== "taken back");
  const last = known.at(-1);
  if (!last) return looks.length === 0 ? "No look yet." : `${counted(looks.length, "look")}, none of them known yet.`;
  const later = looks.length - looks.filter(({ proof }) => proof !== "not yet known").length;
  const beside = later > 0 ? ` ${counted(later, "look")} not yet known.` : "";
  return `${counted(known.length, "look")}; the last on ${last.day}: ${findingOf(numbersOf(last))}.${beside}`;
}

/**
 * @param {StripLook[]} looks
 * @param {{title: string, shape?: string, columns?: number}} how
 */
export function lifeStrip(looks, { title, shape, columns = 8 }) {
  if (!Array.isArray(looks)) throw new CannotDraw("looks must be a list");
  within("columns", columns, 1, 60);
  looks.forEach(({ proof }) => word("proof", proof, PROOFS));
  const across = Math.max(1, Math.min(columns, looks.length));
  const rows = Math.max(1, Math.ceil(looks.length / columns));
  const frames = looks.map((look, index) => frame(look, shape, (index % columns) * FRAME.width, Math.floor(index / columns) * FRAME.height));
  const head = { kind: "strip", width: across * FRAME.width, height: rows * FRAME.height, title, desc: stripFinding(looks) };
  return picture(head, frames.join(""));
}

/** @param {StripLook} look @param {string|undefined} shape @param {number} x @param {number} y */
function frame(look, shape, x, y) {
  const later = look.proof === "not yet known";
  const drawn = drawCase(numbersOf(look, shape), { silent: true }).replace("<svg ", `<svg x="10" y="4" width="${FRAME.case}" height="53" `);
  const words = says(FRAME.width / 2, 74, look.day, { anchor: "middle", kind: "strong" }) + says(FRAME.width / 2, 104, look.proof, { anchor: "middle" });
  const mark = `<g transform="translate(${FRAME.width / 2 - 7} 79)">${proofMark(look.proof)}</g>`;
  return `<g transform="translate(${at(x)} ${at(y)})"${later ? ' class="frame-later"' : ""}>${drawn}${mark}${words}</g>`;
}

/** A sign for how a note stands; each has its own form. @param {string} proof */
export function proofMark(proof) {
  const forms = /** @type {Record<string, string>} */ ({
    checked: "M2 6l4 5 6-10",
    recorded: "M2 7h10",
    waiting: "M7 1v6l4 3",
    "put right": "M1 8l3 3 5-9M8 11h5",
    "taken back": "M2 2l10 9M12 2L2 11",
    "not yet known": "M2 7h2M6 7h2M10 7h2",
  });
  const form = forms[word("proof", proof, PROOFS)];
  return `<path class="proof-mark${proof === "not yet known" ? " proof-later" : ""}" d="${form}"/>`;
}

/** The mark alone, beside words that say the same. @param {string} proof */
export function proofSign(proof) {
  return `<svg class="proof-sign" viewBox="0 0 14 12" aria-hidden="true" focusable="false"><title>${escaped(proof)}</title>${proofMark(proof)}</svg>`;
}
