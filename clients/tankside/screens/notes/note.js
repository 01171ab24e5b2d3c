// What a screen is about to sign: kind, members, and the words that stand on the button. Pure, so
// that every one of them is checked against the schemas without a browser.

import { instant } from "../parts/days.js";

/** @import { Saying } from "../../contracts.js" */

/**
 * @typedef {object} Draft
 * @property {string} type
 * @property {Record<string, any>} data
 * @property {Saying} saying `says` is on the button, parts set apart by " · "
 */

/**
 * @param {string} type without its version @param {string} subject @param {Record<string, any>} data
 * @param {string[]} parts of the words on the button @param {Partial<Saying>} [more]
 * @returns {Draft}
 */
export function draft(type, subject, data, parts, more = {}) {
  const says = parts.filter((part) => part !== "").join(" · ");
  return { type: `${type}.v1`, data: without(data), saying: { subject, says, ...without(more) } };
}

/**
 * Members that are not there are left out: absent is another thing than null.
 * @template {Record<string, any>} T @param {T} members @returns {T}
 */
export function without(members) {
  const kept = Object.entries(members).filter(([, value]) => value !== undefined && value !== null && value !== "" && !(Array.isArray(value) && value.length === 0));
  return /** @type {T} */ (Object.fromEntries(kept));
}

/** Which files a photo is, the original by its hash and the copy that people look at, and when it was taken. @param {import("../../contracts.js").KeptPhoto|null|undefined} photo */
export const photoOf = (photo) => (photo ? { photo_sha256: photo.photo_sha256, photo_copy_sha256: photo.photo_copy_sha256, ...(photo.taken_ms === null ? {} : { photo_taken_at: instant(photo.taken_ms) }) } : {});

/** How many code points a string may have in a note. */
export const LABEL_MAX = 24;
export const WORDS_MAX = 200;
export const REMARK_MAX = 2000;

/** What a note can hold of numbers: beyond it the unit is another one, or a finger slipped. */
export const MASS_G_MAX = 500_000;
export const LENGTH_CM_MAX = 1000;
export const FOOD_G_MAX = 1_000_000;
export const COUNT_MAX = 100_000;
/** As many matters as one hand-over holds, and steps as one opening is told in. */
export const MATTERS_MAX = 40;

/**
 * Lines as a note holds them: none is cut off, a long one goes on in the next, where a word ends.
 * @param {string} text @param {number} [most] @returns {string[]}
 */
export function linesOf(text, most = WORDS_MAX) {
  return text.split("\n").flatMap((line) => {
    const found = /** @type {string[]} */ ([]);
    for (let rest = [...oneLine(line)]; rest.length > 0; ) {
      const space = rest.length > most ? rest.lastIndexOf(" ", most) : -1;
      const end = rest.length <= most ? rest.length : space > 0 ? space : most;
      found.push(rest.slice(0, end).join("").trim());
      rest = [...rest.slice(end).join("").trim()];
    }
    return found;
  });
}

/** @param {string} text @param {number} most */
export const cut = (text, most) => [...text.trim()].slice(0, most).join("");

/** Control characters have no place in a note's strings, but for new lines in a remark. @param {string} text */
export const oneLine = (text) => text.replace(/[\u0000-\u001f\u007f-\u009f]+/g, " ").trim();

/** Words on the button, or the first of them. @param {string} text @param {number} [most] */
export function short(text, most = 60) {
  const points = [...oneLine(text)];
  return points.length <= most ? points.join("") : `${points.slice(0, most - 1).join("")}…`;
}
