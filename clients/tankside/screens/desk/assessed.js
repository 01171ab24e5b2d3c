// What was assessed when a person began to decide. It stands while they decide, whatever is answered
// later, and goes into the note: the same address gives the same answer again (SPEC, choice on
// assessments). It is no recommendation.

import { useState } from "preact/hooks";
import { assessmentOf } from "../notes/assessment.js";

/** @import { Nursery, Reading } from "../../contracts.js" */

/**
 * @typedef {object} Begun
 * @property {any} told the assessment, null where none is known
 * @property {any} kept for the note; null while it is fetched, or where there is none
 * @property {string} why there is none
 */

/**
 * @param {Nursery} nursery @param {string} path @param {Reading|null} reading
 * @returns {{begun: Begun|null, begin: () => void, end: () => void}}
 */
export function useAssessed(nursery, path, reading) {
  const [begun, setBegun] = useState(/** @type {Begun|null} */ (null));
  const begin = () => {
    if (begun) return;
    /** @type {Begun} */
    let now = { told: reading?.body?.item ?? null, kept: null, why: "" };
    setBegun(now);
    // Who has left it meanwhile, or begun anew, is not brought back to it.
    const settle = (/** @type {Partial<Begun>} */ how) => {
      const [before, after] = [now, { ...now, ...how }];
      now = after;
      setBegun((held) => (held === before ? after : held));
    };
    const told = reading ?? nursery.read(path);
    const kept = Promise.resolve(told).then(({ body }) => (settle({ told: body.item }), fetched(nursery, path, body)));
    kept.then((assessment) => settle({ kept: assessment }), (error) => settle({ why: error.message }));
  };
  return { begun, begin, end: () => setBegun(null) };
}

/** Whether it is settled what the note will carry. @param {Begun|null} begun */
export const isSettled = (begun) => begun !== null && (begun.kept !== null || begun.why !== "");

/** What the words on the button say of it. @param {Begun|null} begun */
export const assessedWords = (begun) => (begun?.kept ? `as assessed at ${begun.kept.known_at_size} notes` : "carries no assessment");

/** @param {Nursery} nursery @param {string} path @param {any} body */
async function fetched(nursery, path, body) {
  const text = await (await nursery.fetchFile(`${path}?as_of=${encodeURIComponent(body.as_of)}&known_at=${body.known_at}`)).text();
  const hash = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  const { item } = JSON.parse(text);
  if (JSON.stringify(item) !== JSON.stringify(body.item)) throw new Error("the service says otherwise now than what stands here");
  return assessmentOf(body, [...new Uint8Array(hash)].map((byte) => byte.toString(16).padStart(2, "0")).join(""));
}
