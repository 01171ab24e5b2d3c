// One note: a CloudEvents 1.0 event with the attributes of F5 and no others. It is read from the
// bytes that were signed and written once; nobody writes it again from its parse.

import { base64, fromBase64, fromBase64Of32, fromBase64url, fromUtf8, utf8 } from "./bytes.js";
import { parseStrict } from "./json.js";
import { CORRELATION_CHARS_MAX, EVENT_BYTES_MAX, INTEGER_MAX, LATE_MINUTES, LATE_REASON_CHARS_MAX } from "./limits.js";
import { isKeyid, isKind, isSubject, isUlid } from "./names.js";
import { bodyRefusal } from "./refusal.js";
import { MINUTE_MS, parseInstant, utcText } from "./time.js";

/**
 * The newest checkpoint that the signing device had verified (F5).
 * @typedef {object} Seen
 * @property {number} size
 * @property {Uint8Array} root
 * @property {Uint8Array} signature four bytes of key id, then the signature
 */

/**
 * A note that was read and is well formed; nothing else is known of it.
 * @typedef {object} Event
 * @property {string} id
 * @property {string} source
 * @property {string} type
 * @property {string} subject
 * @property {number} time_ms
 * @property {number|null} timeafter_ms
 * @property {string} keyid
 * @property {number} keycount
 * @property {number} signedtime_ms
 * @property {boolean|null} late
 * @property {string|null} latereason
 * @property {number|null} expect
 * @property {Seen|null} seen
 * @property {string|null} correlationid
 * @property {string|null} causationid
 * @property {Record<string, any>} data
 */

const STRINGS = ["specversion", "id", "source", "type", "subject", "time", "timeafter", "keyid", "nonce", "signedtime", "latereason", "seenroot", "seensig", "correlationid", "causationid", "datacontenttype"];
const OTHERS = ["keycount", "late", "expect", "seensize", "data"];
const REQUIRED = ["specversion", "id", "source", "type", "subject", "time", "keyid", "keycount", "nonce", "signedtime", "data"];

/** What each string must look like. @type {Record<string, [(text: string) => boolean, string]>} */
const FORMS = {
  specversion: [(text) => text === "1.0", '"1.0"'],
  datacontenttype: [(text) => text === "application/json", '"application/json"'],
  id: [isUlid, "a ULID: 26 upper-case Crockford characters"],
  source: [(text) => text !== "", "a URI"],
  type: [isKind, "a kind with its version, such as egg.candled.v1"],
  subject: [isSubject, "of the form collection, key/<keyid> or <noun>/<ULID>"],
  time: [isTime, "a time such as 2026-03-01T09:14:00+10:00"],
  timeafter: [isTime, "a time such as 2026-03-01T09:14:00+10:00"],
  signedtime: [isTime, "a time such as 2026-03-01T09:14:00+10:00"],
  keyid: [isKeyid, "32 lower-case hexadecimal characters"],
  nonce: [(text) => fromBase64url(text)?.length === 16, "16 random bytes in base64url, 22 characters"],
  latereason: [(text) => [...text].length <= LATE_REASON_CHARS_MAX, `at most ${LATE_REASON_CHARS_MAX} characters long`],
  correlationid: [isShort, `1 to ${CORRELATION_CHARS_MAX} characters long`],
  causationid: [isShort, `1 to ${CORRELATION_CHARS_MAX} characters long`],
  seenroot: [(text) => fromBase64Of32(text) !== null, "32 bytes in base64"],
  seensig: [(text) => fromBase64(text) !== null, "base64"],
};

/** @param {string} text */
function isTime(text) {
  return parseInstant(text) !== null;
}

/** @param {string} text */
function isShort(text) {
  return text !== "" && [...text].length <= CORRELATION_CHARS_MAX;
}

/**
 * Reads a body strictly (F4, F5).
 * @param {Uint8Array} body
 * @returns {Event}
 */
export function parseEvent(body) {
  if (body.length > EVENT_BYTES_MAX) throw bodyRefusal("", `the body has ${body.length} bytes; at most ${EVENT_BYTES_MAX} are allowed`);
  const { value, spelled } = strict(body);
  if (typeof value !== "object" || value === null || Array.isArray(value)) throw bodyRefusal("", "the body is not a JSON object");
  for (const name of REQUIRED) if (!(name in value)) throw bodyRefusal(`/${name}`, `the attribute ${name} is missing`);
  for (const name of Object.keys(value)) checkAttribute(name, value[name]);
  const integer = (/** @type {string} */ name, /** @type {number} */ least) => (name in value ? checkInteger(name, spelled.get(name), least) : null);
  const event = {
    id: value.id,
    source: value.source,
    type: value.type,
    subject: value.subject,
    time_ms: instantOf(value.time),
    timeafter_ms: "timeafter" in value ? instantOf(value.timeafter) : null,
    keyid: value.keyid,
    keycount: integer("keycount", 1) ?? 0,
    signedtime_ms: instantOf(value.signedtime),
    late: value.late ?? null,
    latereason: value.latereason ?? null,
    expect: integer("expect", 0),
    seen: seenOf(value, integer("seensize", 1)),
    correlationid: value.correlationid ?? null,
    causationid: value.causationid ?? null,
    data: value.data,
  };
  if (event.timeafter_ms !== null && event.timeafter_ms >= event.time_ms) throw bodyRefusal("/timeafter", "timeafter must lie before time");
  return event;
}

/** @param {Uint8Array} body */
function strict(body) {
  const text = fromUtf8(body);
  if (text === null) throw bodyRefusal("", "the body is not UTF-8");
  try {
    return parseStrict(text);
  } catch (error) {
    throw bodyRefusal("", `the body is not strict JSON: ${/** @type {Error} */ (error).message}`);
  }
}

/** @param {string} name @param {any} value */
function checkAttribute(name, value) {
  const pointer = `/${name.replaceAll("~", "~0").replaceAll("/", "~1")}`;
  if (STRINGS.includes(name)) {
    if (typeof value !== "string") throw bodyRefusal(pointer, `${name} must be a string`);
    const [fits, wanted] = FORMS[name] ?? [() => true, ""];
    if (!fits(value)) throw bodyRefusal(pointer, `${name} ${JSON.stringify(value)} is not ${wanted}`);
  } else if (!OTHERS.includes(name)) {
    throw bodyRefusal(pointer, `${JSON.stringify(name)} is no attribute of an event; remove it`);
  }
  if (name === "late" && typeof value !== "boolean") throw bodyRefusal(pointer, "late must be true or absent");
  if (name === "data" && (typeof value !== "object" || value === null || Array.isArray(value))) throw bodyRefusal(pointer, "data must be an object");
}

/** @param {string} text already known to be a time */
const instantOf = (text) => parseInstant(text) ?? 0;

/**
 * A CloudEvents Integer: plain digits, so `1e2`, `1.0` and `-0` are none.
 * @param {string} name @param {string|undefined} spelled @param {number} least
 */
function checkInteger(name, spelled, least) {
  const number = Number(spelled);
  if (spelled !== undefined && /^(?:0|[1-9][0-9]*)$/.test(spelled) && number >= least && number <= INTEGER_MAX) return number;
  throw bodyRefusal(`/${name}`, `${name} must be a whole number from ${least} to ${INTEGER_MAX}, written in plain digits`);
}

/** @param {Record<string, any>} value @param {number|null} size @returns {Seen|null} */
function seenOf(value, size) {
  const { seenroot, seensig } = value;
  const given = [size !== null, seenroot !== undefined, seensig !== undefined].filter(Boolean).length;
  if (given === 0) return null;
  const [root, signature] = [fromBase64(seenroot ?? ""), fromBase64(seensig ?? "")];
  if (given !== 3 || size === null || !root || !signature) throw bodyRefusal("/seensize", "seensize, seenroot and seensig go together: all three or none");
  return { size, root, signature };
}

/**
 * What a note says, before it has an author's count.
 * @typedef {object} Draft
 * @property {string} id
 * @property {string} nonce
 * @property {string} type
 * @property {string} subject
 * @property {Record<string, any>} data
 * @property {number} time_ms
 * @property {number} [timeafter_ms]
 * @property {string} [late] why it is written afterwards
 * @property {number} [expect]
 * @property {string} [correlation]
 * @property {string} [causation]
 */

/**
 * Whether a note must say that it was written afterwards (F5).
 * @param {number} time_ms when it happened @param {number} signed_ms when it is written
 */
export const isLate = (time_ms, signed_ms) => signed_ms - time_ms > LATE_MINUTES * MINUTE_MS;

/** How the reason of a note begins that was written on paper first, and is transcribed (SPEC, choice 52). */
export const FROM_PAPER = "from paper: ";

/**
 * The body's bytes: attributes always in this order, compact, as the command line writes them.
 * @param {Draft} draft
 * @param {{origin: string, keyid: string, keycount: number, signed_ms: number, seen: Seen|null}} by
 */
export function writeBody(draft, by) {
  /** @type {Record<string, any>} */
  const members = {
    specversion: "1.0",
    id: draft.id,
    source: `https://${by.origin}`,
    type: draft.type,
    subject: draft.subject,
    time: utcText(draft.time_ms),
  };
  if (draft.timeafter_ms !== undefined) members.timeafter = utcText(draft.timeafter_ms);
  Object.assign(members, { keyid: by.keyid, keycount: by.keycount, nonce: draft.nonce, signedtime: utcText(by.signed_ms) });
  // What comes from paper says so however soon it is transcribed: nothing else marks it.
  const late = isLate(draft.time_ms, by.signed_ms) || draft.late?.startsWith(FROM_PAPER);
  if (late && draft.late !== undefined) Object.assign(members, { late: true, latereason: draft.late });
  if (draft.expect !== undefined) members.expect = draft.expect;
  // A size beyond CloudEvents' Integer cannot be written down; the note does without.
  if (by.seen && by.seen.size <= INTEGER_MAX) {
    Object.assign(members, { seensize: by.seen.size, seenroot: base64(by.seen.root), seensig: base64(by.seen.signature) });
  }
  if (draft.correlation !== undefined) members.correlationid = draft.correlation;
  if (draft.causation !== undefined) members.causationid = draft.causation;
  members.data = draft.data;
  return utf8(JSON.stringify(members));
}
