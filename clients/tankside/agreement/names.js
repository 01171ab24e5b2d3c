// ULIDs, subjects, key ids and kinds (F1, F3, F8).

import { concat, hex, sha256, utf8 } from "./bytes.js";

export const NOUNS = [
  "egg", "clutch", "animal", "group", "system", "tank", "place", "species",
  "food", "sample", "consignment", "round", "incident", "instrument", "loan", "document",
];

const CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/** @param {string} text */
export const isUlid = (text) => /^[0-7][0-9A-HJKMNP-TV-Z]{25}$/.test(text);

/** @param {string} text */
export const isKeyid = (text) => /^[0-9a-f]{32}$/.test(text);

/** @param {string} text */
export const isKind = (text) => /^[a-z]+\.[a-z_]+\.v[1-9][0-9]*$/.test(text);

/** @param {string} text */
export const isPerson = (text) => text.startsWith("person/") && isUlid(text.slice("person/".length));

/** @param {string} text */
export function isSubject(text) {
  const [noun, id, more] = text.split("/");
  if (id === undefined) return text === "collection";
  if (more !== undefined) return false;
  return noun === "key" ? isKeyid(id) : NOUNS.includes(noun ?? "") && isUlid(id);
}

/**
 * A ULID of a moment and 80 random bits.
 * @param {number} now_ms since 1970
 * @param {Uint8Array} random 10 bytes
 */
export function ulid(now_ms, random) {
  if (!(now_ms >= 0) || random.length !== 10) throw new RangeError("a ULID is made of a moment after 1970 and 10 random bytes");
  const random_bits = random.reduce((sum, byte) => (sum << 8n) | BigInt(byte), 0n);
  let rest = (BigInt(Math.floor(now_ms)) << 80n) | random_bits;
  let text = "";
  for (let at = 0; at < 26; at += 1) {
    text = CROCKFORD[Number(rest & 31n)] + text;
    rest >>= 5n;
  }
  return text;
}

/** The id of a public key of 32 bytes (F8). @param {Uint8Array} publicKey */
export async function keyidOf(publicKey) {
  return hex((await sha256(concat(utf8("selachron-key/v1\n\x01"), publicKey))).slice(0, 16));
}
