// Notes of this device as screens see them, and drafts as screens say them.

import { base64url } from "../agreement/bytes.js";
import { isLate, parseEvent, writeBody } from "../agreement/event.js";
import { WAITING_WARN_HOURS } from "../agreement/limits.js";
import { Refusal } from "../agreement/refusal.js";
import { HOUR_MS, parseInstant, utcText } from "../agreement/time.js";
import { now_ms, randomBytes } from "../device/clock.js";
import { Trouble } from "../device/trouble.js";

/** @import { LocalNote, OutboxState, Saying } from "../contracts.js" */
/** @import { VerifierKey } from "../agreement/note.js" */
/** @import { NoteRow, PendingRow } from "../device/store.js" */

/**
 * A note that has its count, as screens see it.
 * @param {NoteRow} row @param {any} body its parse @param {LocalNote["state"]} state
 * @returns {LocalNote}
 */
export function countedNote(row, body, state) {
  const { id, says, keyid, group, tapped_ms, problem, seq, offered, read_ms } = row;
  const waits = { ...(offered ? { wants: offered.wants } : {}), ...(read_ms === undefined ? {} : { read: true }) };
  const rest = { ...waits, ...(body.correlationid ? { correlation: body.correlationid } : {}), ...(problem ? { problem } : {}), ...(seq === undefined ? {} : { seq }) };
  return { id, type: body.type, subject: body.subject, data: body.data, time: body.time, says, keyid, state, group, tapped_ms, ...rest };
}

/** @param {OutboxState} outbox @param {number} at_ms @returns {OutboxState["alarm"]} */
export function alarmOf(outbox, at_ms) {
  if (outbox.broken) return "broken";
  if (outbox.refused > 0) return "refused";
  return outbox.oldest_ms !== null && at_ms - outbox.oldest_ms > WAITING_WARN_HOURS * HOUR_MS ? "late" : "calm";
}

/** A tapped note, as screens see it. @param {PendingRow} row @returns {LocalNote} */
export function pendingNote({ id, keyid, draft, says, group, tapped_ms }) {
  const correlation = draft.correlation === undefined ? {} : { correlation: draft.correlation };
  return { id, type: draft.type, subject: draft.subject, data: draft.data, time: utcText(draft.time_ms), says, keyid, state: "pending", group, tapped_ms, ...correlation };
}

/** @param {string} type @param {Record<string, any>} data @param {Saying} saying @param {number} at_ms */
export function draftOf(type, data, saying, at_ms) {
  const instant = (/** @type {string} */ text) => {
    const ms = parseInstant(text);
    if (ms === null) throw new Trouble(`${text} is not a time.`);
    return ms;
  };
  const { late, expect, correlation, causation, timeafter } = saying;
  const time_ms = saying.time === undefined ? at_ms : instant(saying.time);
  if (isLate(time_ms, at_ms) && !late) throw new Trouble("It happened more than 15 minutes ago: say in a few words why it is written now.");
  return {
    id: "",
    nonce: base64url(randomBytes(16)),
    type,
    subject: saying.subject,
    data: structuredClone(data),
    time_ms,
    ...(timeafter === undefined ? {} : { timeafter_ms: instant(timeafter) }),
    ...(late === undefined ? {} : { late }),
    ...(expect === undefined ? {} : { expect }),
    ...(correlation === undefined ? {} : { correlation }),
    ...(causation === undefined ? {} : { causation }),
  };
}

/** Whether a body can be made of it, before it is kept: no count is spent on what cannot be signed. @param {PendingRow} row @param {VerifierKey} logKey */
export function checkDraft({ keyid, draft }, logKey) {
  try {
    parseEvent(writeBody(draft, { origin: logKey.name, keyid, keycount: 1, signed_ms: now_ms(), seen: null }));
  } catch (error) {
    if (error instanceof Refusal) throw new Trouble(`This cannot be noted: ${error.message}.`, { name: error.problem, pointer: error.pointer });
    throw error;
  }
}
