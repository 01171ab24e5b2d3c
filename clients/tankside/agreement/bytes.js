// Bytes and the text forms of bytes, as strict as F3 and F7 want them: padded where padding is
// written, slack bits zero, nothing else in between.

const STANDARD = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
const URL_SAFE = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";

const writer = new TextEncoder();

/** @param {string} text */
export const utf8 = (text) => writer.encode(text);

/**
 * Reads UTF-8; a byte order mark stays, so that a strict reader meets it.
 * @param {Uint8Array} bytes
 * @returns {string|null} null when it is not UTF-8
 */
export function fromUtf8(bytes) {
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return null;
  }
}

/** @param {...Uint8Array} parts */
export function concat(...parts) {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  parts.reduce((at, part) => (whole.set(part, at), at + part.length), 0);
  return whole;
}

/** @param {Uint8Array} a @param {Uint8Array} b */
export const equal = (a, b) => a.length === b.length && a.every((byte, at) => byte === b[at]);

/** @param {Uint8Array} bytes @param {string} alphabet */
function encode(bytes, alphabet) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 3) {
    const group = ((bytes[at] ?? 0) << 16) | ((bytes[at + 1] ?? 0) << 8) | (bytes[at + 2] ?? 0);
    const characters = Math.min(bytes.length - at, 3) + 1;
    for (let place = 0; place < characters; place += 1) text += alphabet[(group >> (18 - 6 * place)) & 63];
  }
  return text;
}

/**
 * Reads characters of one alphabet without padding; bits that no byte takes must be zero.
 * @param {string} text @param {string} alphabet
 * @returns {Uint8Array<ArrayBuffer>|null}
 */
function decode(text, alphabet) {
  if (text.length % 4 === 1) return null;
  const bytes = new Uint8Array(Math.floor((text.length * 3) / 4));
  let [bits, held, at] = [0, 0, 0];
  for (const character of text) {
    const value = alphabet.indexOf(character);
    if (value < 0) return null;
    [bits, held] = [((bits << 6) | value) & 0xffff, held + 6];
    if (held >= 8) {
      held -= 8;
      bytes[at++] = (bits >> held) & 0xff;
    }
  }
  return (bits & ((1 << held) - 1)) === 0 ? bytes : null;
}

/** The text without its padding, or null if the padding is not as it must be. @param {string} text */
function unpadded(text) {
  if (text.length % 4 !== 0) return null;
  const bare = text.replace(/={1,2}$/, "");
  return bare.includes("=") || bare.length % 4 === 1 ? null : bare;
}

/** Standard padded base64, the only form we write. @param {Uint8Array} bytes */
export function base64(bytes) {
  const text = encode(bytes, STANDARD);
  return text.padEnd(Math.ceil(text.length / 4) * 4, "=");
}

/** Reads standard padded base64. @param {string} text */
export function fromBase64(text) {
  const bare = unpadded(text);
  return bare === null ? null : decode(bare, STANDARD);
}

/** Reads exactly 32 bytes of standard base64. @param {string} text */
export function fromBase64Of32(text) {
  const bytes = fromBase64(text);
  return bytes?.length === 32 ? bytes : null;
}

/** Reads either alphabet, one a string, padded (F7). @param {string} text */
export function fromEitherBase64(text) {
  const bare = unpadded(text);
  return bare === null ? null : decode(bare, /[-_]/.test(bare) ? URL_SAFE : STANDARD);
}

/** base64url without padding: the form of a nonce, and of tokens. @param {Uint8Array} bytes */
export const base64url = (bytes) => encode(bytes, URL_SAFE);

/** Reads base64url without padding. @param {string} text */
export const fromBase64url = (text) => decode(text, URL_SAFE);

/** @param {Uint8Array} bytes */
export const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");

/** Reads lower-case hexadecimal. @param {string} text @returns {Uint8Array<ArrayBuffer>|null} */
export function fromHex(text) {
  if (!/^(?:[0-9a-f]{2})*$/.test(text)) return null;
  return Uint8Array.from(text.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16));
}

/** @param {Uint8Array} bytes @returns {Promise<Uint8Array<ArrayBuffer>>} */
export async function sha256(bytes) {
  return new Uint8Array(await crypto.subtle.digest("SHA-256", /** @type {BufferSource} */ (bytes)));
}
