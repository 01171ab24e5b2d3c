// Putting right what is recorded: a new note names the old one, and both stay visible (F21). Pure.

import { draft, short } from "./note.js";

/** @import { Draft } from "./note.js" */

/** Kinds that govern the record, and acts: never put right here. */
const NEVER = /^(?:collection|policy|key|root|record|body|note|report)\./;

/** Whether a note of a history can be put right. @param {{kind: string, withheld?: boolean}} note */
export const canPutRight = ({ kind, withheld }) => !withheld && !NEVER.test(kind);

/** The subject that is written in its body: an act has the same. @param {any} note */
const writtenSubject = (note) => note.as_written?.subject ?? note.subject;

/** It did not happen so: nothing of it stands. @param {any} note @param {string} says what it said @param {string} reason @returns {Draft} */
export function takenBack(note, says, reason) {
  return draft("record.retracted", writtenSubject(note), { target: note.id, reason }, ["It did not happen so", short(says, 50), `because: ${short(reason, 40)}`], { atOnce: true, group: `act ${note.id}` });
}

/** It did happen so after all: the taking back is taken back. @param {any} note @param {{id: string}} act @param {string} says @param {string} reason @returns {Draft} */
export function restored(note, act, says, reason) {
  return draft("record.retracted", writtenSubject(note), { target: act.id, reason }, ["It did happen so after all", short(says, 50), `because: ${short(reason, 40)}`], { atOnce: true, group: `act ${note.id}` });
}

/**
 * Something of it was otherwise. The replacement is whole: what it does not name would fall back to
 * what was first written, also what an earlier correction had put right.
 * @param {any} note @param {{time?: string, data?: Record<string, any>}} change @param {string} words what was, and what stands instead @param {string} reason
 * @returns {Draft}
 */
export function corrected(note, change, words, reason) {
  const first = note.as_written;
  const kept = (/** @type {string} */ member) => (first && note[member] !== undefined && note[member] !== first[member] ? { [member]: note[member] } : {});
  const replacement = { ...kept("time"), ...kept("timeafter"), ...kept("subject"), ...(change.time ? { time: change.time } : {}), data: change.data ?? note.data };
  return draft("record.corrected", writtenSubject(note), { target: note.id, reason, replacement }, ["Put right", words, `because: ${short(reason, 40)}`], { atOnce: true, group: `act ${note.id}` });
}

/**
 * A member of a kind that a person can put right on a page.
 * @typedef {object} Member
 * @property {string} name
 * @property {"one"|"several"|"number"|"yes or no"|"words"} form
 * @property {any[]} options
 * @property {number} least @property {number} most
 * @property {boolean} whole a number without a fraction
 * @property {boolean} required
 */

/**
 * What of a kind can be put right: words, numbers, choices. What names other things, or files, is put
 * right at the desk by the command line.
 * @param {any} schema of the kind @param {any} common definitions that it refers to @returns {Member[]}
 */
export function membersOf(schema, common) {
  const resolved = (/** @type {any} */ one) => ({ ...common.$defs[String(one.$ref ?? "").split("/").at(-1) ?? ""], ...one });
  return Object.entries(schema.properties ?? {}).flatMap(([name, written]) => {
    const one = resolved(written);
    const items = one.items ? resolved(one.items) : null;
    const form = formOf(one, items);
    if (form === null) return [];
    return [{ name, form, options: one.enum ?? items?.enum ?? [], least: one.minimum ?? -Infinity, most: form === "words" ? (one.maxLength ?? 200) : (one.maximum ?? Infinity), whole: one.type === "integer", required: (schema.required ?? []).includes(name) }];
  });
}

/** @param {any} one @param {any} items @returns {Member["form"]|null} */
function formOf(one, items) {
  if (one.enum) return "one";
  if (items?.enum) return "several";
  if (one.type === "boolean") return "yes or no";
  if (one.type === "number" || one.type === "integer") return "number";
  return one.type === "string" && one.pattern === undefined && one.format === undefined && one.maxLength !== undefined ? "words" : null;
}
