// The wire. Everything that leaves this device or comes to it goes through here; nothing else asks
// the network, and nothing here asks any other host.

import { fromBase64Of32 } from "../agreement/bytes.js";
import { TOKEN_LIFE_S, TOKEN_RENEW_S } from "../agreement/limits.js";
import { ulid } from "../agreement/names.js";
import { signToken } from "../agreement/token.js";
import { now_ms, randomBytes } from "./clock.js";
import { sign } from "./keys.js";
import { Trouble, Unreachable } from "./trouble.js";

/** @import { KeyRow } from "./store.js" */

/** How long an answer may take. */
const ANSWER_MS = 30_000;

/** A new ULID. */
export const newUlid = () => ulid(now_ms(), randomBytes(10));

/** What reads: a key, and the log that its tokens are for. @typedef {{key: KeyRow, origin: string}} Reader */

/** Tokens in use, by key. @type {Map<string, {text: string, made_ms: number}>} */
const tokens = new Map();

/** @param {Reader} reader */
async function tokenOf({ key, origin }) {
  const now = now_ms();
  const held = tokens.get(key.keyid);
  if (held && now >= held.made_ms && now - held.made_ms < (TOKEN_LIFE_S - TOKEN_RENEW_S) * 1000) return held.text;
  const signer = (/** @type {Uint8Array} */ message) => sign(key, Uint8Array.from(message));
  const text = await signToken(signer, { keyid: key.keyid, origin, now_ms: now, id: newUlid() });
  tokens.set(key.keyid, { text, made_ms: now });
  return text;
}

/**
 * Asks the service; what it refuses becomes a `Trouble` with its own sentence.
 * @param {string} path @param {RequestInit} [init] @param {Reader|null} [reader]
 * @returns {Promise<Response>}
 */
export async function ask(path, init = {}, reader = null) {
  const response = await once(path, init, reader);
  if (response.ok) return response;
  const trouble = await troubleOf(response);
  // A token that counts as used from elsewhere (this device has another address now) is made anew, once.
  if (trouble.problem !== "token-replayed" || !reader) throw trouble;
  tokens.delete(reader.key.keyid);
  const again = await once(path, init, reader);
  if (!again.ok) throw await troubleOf(again);
  return again;
}

/** @param {string} path @param {RequestInit} init @param {Reader|null} reader */
async function once(path, init, reader) {
  const headers = new Headers(init.headers);
  if (reader) headers.set("authorization", `Bearer ${await tokenOf(reader)}`);
  try {
    return await fetch(path, { cache: "no-store", credentials: "omit", signal: AbortSignal.timeout(ANSWER_MS), ...init, headers });
  } catch {
    throw new Unreachable();
  }
}

/** @param {Response} response */
async function troubleOf(response) {
  const said = await response.json().catch(() => ({}));
  return problemTrouble(said, response.status);
}

/** A problem of the service (RFC 9457) as a sentence. @param {any} said @param {number} [status] */
export function problemTrouble(said, status = 0) {
  const name = String(said?.type ?? "").split("/").at(-1) ?? "";
  const detail = said?.detail ?? said?.title ?? `The service answered ${status}.`;
  return new Trouble(String(detail), { name, pointer: said?.pointer, status: Number(said?.status ?? status) });
}

/** @param {string} path @param {Reader|null} [reader] @returns {Promise<any>} */
export const askJson = async (path, reader = null) => (await ask(path, { headers: { accept: "application/json" } }, reader)).json();

/** @param {string} path @param {Reader|null} [reader] @returns {Promise<string>} */
export const askText = async (path, reader = null) => (await ask(path, {}, reader)).text();

/** A consistency proof. @param {Reader|null} reader @returns {import("./trust.js").Prover} */
export const prover = (reader) => async (older, newer) => {
  const { hashes } = await askJson(`/v1/log/proof/consistency?first=${older}&second=${newer}`, reader);
  return readHashes(hashes);
};

/** @param {unknown} list @returns {Uint8Array[]} */
export function readHashes(list) {
  const hashes = Array.isArray(list) ? list.map((hash) => (typeof hash === "string" ? fromBase64Of32(hash) : null)) : [null];
  if (hashes.some((hash) => hash === null)) throw new Trouble("The service's consistency proof is no list of hashes.");
  return hashes.filter((hash) => hash !== null);
}
