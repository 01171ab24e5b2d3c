// One look at a case. The words on each button name the band and the movement that will be signed.

import { bandOf } from "../../look/drawings/bands.js";
import { draft, photoOf, short } from "./note.js";

/** @import { KeptPhoto } from "../../contracts.js" */
/** @import { Draft } from "./note.js" */

export const MOVEMENTS = /** @type {const} */ (["moving", "still", "could not tell"]);
/** Where the switch stands before each case. */
export const HOME = "moving";
export const FINDINGS = /** @type {const} */ (["yolk broken", "cloudy", "slits open", "air inside", "air let out", "fouled", "small animals", "damaged", "smell"]);
/** Marks a look for the desk; who writes the remark puts the note right. */
export const REMARK_LATER = "A remark follows from the desk.";
export const COLLEAGUE = "A colleague is asked to look at it too.";

/**
 * @typedef {object} Look
 * @property {string} egg
 * @property {string} label
 * @property {number|null} band null: could not see in
 * @property {string} movement as the switch stands
 * @property {readonly string[]} [findings]
 * @property {boolean} [prompted] because of a suspicion, not on schedule
 * @property {boolean} [later] a remark follows
 * @property {boolean} [colleague] a colleague is asked
 * @property {string} [words] a remark in words of one's own
 * @property {KeptPhoto|null} [photo]
 * @property {string} [round]
 */

/** Without an embryo there is nothing that could move. @param {number} band @param {string} movement */
export const movementOf = (band, movement) => (band < 2 ? "could not tell" : movement);

/** @param {Look} look @returns {Draft} */
export function candled(look) {
  const findings = FINDINGS.filter((finding) => look.findings?.includes(finding));
  const remark = [look.words ?? "", look.later ? REMARK_LATER : "", look.colleague ? COLLEAGUE : ""].filter((part) => part !== "").join(" ");
  const rest = { findings, prompted: look.prompted || undefined, ...photoOf(look.photo), remark };
  const beside = [...findings, look.later ? "remark later" : "", look.colleague ? "colleague asked" : "", look.photo ? "with photo" : "", look.words ? `“${short(look.words)}”` : ""];
  const more = { correlation: look.round };
  if (look.band === null) return draft("egg.candled", look.egg, { seen_into: false, ...rest }, ["Could not see in", ...beside], more);
  const movement = movementOf(look.band, look.movement);
  const said = look.band < 2 && movement === "could not tell" ? "movement: could not tell" : movement;
  return draft("egg.candled", look.egg, { seen_into: true, band: look.band, movement, ...rest }, [bandOf(look.band).label, said, ...beside], more);
}

/** @param {{egg: string, reason: string, tank?: string, tankLabel?: string, remark?: string}} held @returns {Draft} */
export function heldApart({ egg, reason, tank, tankLabel, remark }) {
  return draft("egg.held_apart", egg, { reason, to_tank: tank, remark }, ["Held apart", reason, tankLabel ? `in ${tankLabel}` : ""]);
}

export const HELD_REASONS = /** @type {const} */ (["no movement seen", "cloudy", "smell", "damaged", "fouled", "no embryo seen in time", "other"]);
export const LOSS_CAUSES = /** @type {const} */ (["not determined", "no yolk", "yolk, no embryo ever seen", "yolk broken", "embryo died", "case damaged", "cloudy or decomposed", "eaten or drilled", "trapped at hatching", "at or after opening", "water or equipment incident"]);

/**
 * Why a loss cannot be noted yet; null when it can. No movement is not death.
 * @param {{looks: number, looksMin: number, plainlyDead: boolean, photo: KeptPhoto|null}} known
 */
export function lossNeeds({ looks, looksMin, plainlyDead, photo }) {
  if (plainlyDead) return photo ? null : "Plainly decomposed, empty or crushed: take a photo of it first.";
  return looks >= looksMin ? null : `Looked at ${looks} of ${looksMin} times since it was held apart. No movement is not death: look again later.`;
}

/** @param {{egg: string, cause: string, band?: number, plainlyDead?: boolean, photo?: KeptPhoto|null}} lost @returns {Draft} */
export function lost({ egg, cause, band, plainlyDead, photo }) {
  const data = { apparent_cause: cause, band_last_seen: band, plainly_dead: plainlyDead || undefined, ...photoOf(photo) };
  return draft("egg.lost", egg, data, ["Lost", `apparent cause: ${cause}`, plainlyDead ? "plainly dead" : "", photo ? "with photo" : ""]);
}

/** @param {{egg: string, searched: string[], noticed?: string}} gone @returns {Draft} */
export function missing({ egg, searched, noticed = "the daily look" }) {
  return draft("egg.missing", egg, { noticed_at: noticed, searched }, ["Not in its place", searched.length > 0 ? `searched: ${searched.join(", ")}` : "not searched for"]);
}

export const SEARCHED = /** @type {const} */ (["the tank", "other tanks of the system", "filter and sump", "outflow", "floor and surroundings", "bins and nets"]);

/** Puts right a look that said a remark would follow. @param {{id: string, subject: string, data: Record<string, any>}} note @param {string} words @returns {Draft} */
export function remarked({ id, subject, data }, words) {
  return draft("record.corrected", subject, { target: id, reason: "the remark that was to follow", replacement: { data: { ...data, remark: words } } }, ["Remark", words]);
}
