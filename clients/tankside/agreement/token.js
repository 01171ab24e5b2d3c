// Tokens by which a key reads (SPEC.md, Reading): JSON Web Tokens in compact form, signed with
// Ed25519 as RFC 8037 says.

import { base64url, utf8 } from "./bytes.js";
import { TOKEN_LIFE_S } from "./limits.js";

/** @typedef {(message: Uint8Array) => Promise<Uint8Array>} Signer */

/**
 * A JWS in compact form (RFC 7515 7.1).
 * @param {Signer} sign @param {Record<string, string>} header @param {Uint8Array} payload
 */
export async function signJws(sign, header, payload) {
  const signed = `${base64url(utf8(JSON.stringify(header)))}.${base64url(payload)}`;
  return `${signed}.${base64url(await sign(utf8(signed)))}`;
}

/**
 * A token for the log `origin` that begins now.
 * @param {Signer} sign
 * @param {{keyid: string, origin: string, now_ms: number, id: string}} of `id` is new for every token
 */
export function signToken(sign, { keyid, origin, now_ms, id }) {
  const issued_s = Math.floor(now_ms / 1000);
  const claims = { aud: origin, iat: issued_s, exp: issued_s + TOKEN_LIFE_S, jti: id };
  return signJws(sign, { alg: "EdDSA", typ: "JWT", kid: keyid }, utf8(JSON.stringify(claims)));
}
