// A note as it travels: a DSSE envelope, read strictly and written in one form only (F6, F7).

import { base64, concat, fromEitherBase64, fromUtf8, utf8 } from "./bytes.js";
import { parseStrict } from "./json.js";
import { ENVELOPE_BYTES_MAX, SIGNATURES_MAX } from "./limits.js";
import { Refusal } from "./refusal.js";

/** The payload type is part of what is signed. */
export const PAYLOAD_TYPE = "application/vnd.selachron.event.v1+json";

/**
 * @typedef {object} Signature
 * @property {string|null} keyid a hint; it may be wrong
 * @property {Uint8Array} sig 64 bytes
 */

/**
 * @typedef {object} Envelope
 * @property {Uint8Array} body its exact bytes
 * @property {Signature[]} signatures in the order they came
 */

/** What is signed: DSSE v1 pre-authentication encoding of our type and the body (F6). @param {Uint8Array} body */
export function signedBytes(body) {
  return concat(utf8(`DSSEv1 ${PAYLOAD_TYPE.length} ${PAYLOAD_TYPE} ${body.length} `), body);
}

/** @param {string} reason */
const malformed = (reason) => new Refusal("envelope-malformed", `the envelope cannot be read: ${reason}`);

/**
 * Reads the wire form.
 * @param {Uint8Array} bytes
 * @returns {Envelope}
 */
export function readEnvelope(bytes) {
  if (bytes.length > ENVELOPE_BYTES_MAX) throw malformed(`it has ${bytes.length} bytes; at most ${ENVELOPE_BYTES_MAX} are allowed`);
  const text = fromUtf8(bytes);
  if (text === null) throw malformed("it is not UTF-8");
  const { payloadType, payload, signatures, ...others } = asObject(parsed(text), "it is not a JSON object");
  if (payloadType !== PAYLOAD_TYPE) throw malformed(`payloadType must be ${PAYLOAD_TYPE}`);
  const body = typeof payload === "string" ? fromEitherBase64(payload) : null;
  if (!body) throw malformed("payload must be base64, padded, in one alphabet");
  if (!Array.isArray(signatures)) throw malformed("signatures must be a list");
  if (signatures.length < 1 || signatures.length > SIGNATURES_MAX) throw malformed(`1 to ${SIGNATURES_MAX} signatures are allowed`);
  const read = signatures.map(readSignature);
  noOthers(others, "an envelope");
  return { body, signatures: read };
}

/** @param {string} text */
function parsed(text) {
  try {
    return parseStrict(text).value;
  } catch (error) {
    throw malformed(/** @type {Error} */ (error).message);
  }
}

/** @param {any} value @param {string} otherwise @returns {Record<string, any>} */
function asObject(value, otherwise) {
  if (typeof value !== "object" || value === null || Array.isArray(value)) throw malformed(otherwise);
  return value;
}

/** @param {Record<string, any>} others @param {string} of */
function noOthers(others, of) {
  const [name] = Object.keys(others);
  if (name !== undefined) throw malformed(`${JSON.stringify(name)} is no member of ${of}; remove it`);
}

/** @param {any} item @returns {Signature} */
function readSignature(item) {
  const { keyid, sig, ...others } = asObject(item, "a signature must be an object");
  const bytes = typeof sig === "string" ? fromEitherBase64(sig) : null;
  if (bytes?.length !== 64) throw malformed("sig must be 64 bytes in base64");
  if (keyid !== undefined && typeof keyid !== "string") throw malformed("keyid must be a string");
  noOthers(others, "a signature");
  return { keyid: keyid ?? null, sig: bytes };
}

/**
 * The written form: members in this order, no spaces, signatures ascending by keyid.
 * @param {Uint8Array} body
 * @param {{keyid: string, sig: Uint8Array}[]} signatures
 */
export function writeEnvelope(body, signatures) {
  const sorted = [...signatures].sort((a, b) => (a.keyid < b.keyid ? -1 : Number(a.keyid > b.keyid)));
  const written = sorted.map(({ keyid, sig }) => `{"keyid":"${keyid}","sig":"${base64(sig)}"}`);
  return `{"payloadType":"${PAYLOAD_TYPE}","payload":"${base64(body)}","signatures":[${written.join(",")}]}`;
}
