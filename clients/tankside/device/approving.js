// Notes by others that want this person's signature too (F9): read, shown whole, signed over the
// very bytes that were shown, and handed back.

import { fromUtf8, utf8 } from "../agreement/bytes.js";
import { readEnvelope, writeEnvelope } from "../agreement/envelope.js";
import { parseEvent } from "../agreement/event.js";
import { signBody } from "./keys.js";
import { settle } from "./sending.js";
import { ask, askJson } from "./service.js";

/** @import { Event } from "../agreement/event.js" */
/** @import { VerifierKey } from "../agreement/note.js" */
/** @import { KeyRow, Store } from "./store.js" */
/** @import { Reader } from "./service.js" */

/**
 * A body that waits for this key's signature.
 * @typedef {object} Offer
 * @property {Event} event
 * @property {Uint8Array} body the bytes that would be signed
 * @property {string} text the same, to be read
 * @property {{keyid: string, sig: Uint8Array}[]} signatures those it has
 */

/**
 * A note that waits at the service.
 * @typedef {Offer & {person: string, until: string, wants: any[]}} Waiting
 */

/** @param {string} envelope @returns {Offer} */
export function readOffer(envelope) {
  const { body, signatures } = readEnvelope(utf8(envelope));
  const event = parseEvent(body);
  const named = signatures.map(({ keyid, sig }) => ({ keyid: keyid ?? event.keyid, sig }));
  return { event, body, text: fromUtf8(body) ?? "", signatures: named };
}

/** What waits for the reader's signature. @param {Reader} reader @returns {Promise<Waiting[]>} */
export async function forMe(reader) {
  const { items } = await askJson("/v1/waiting", reader);
  const mine = items.filter((/** @type {any} */ item) => item.yours_to_sign === true);
  return mine.map((/** @type {any} */ item) => ({ ...readOffer(item.envelope), person: item.person ?? "", until: item.until, wants: item.wants }));
}

/**
 * Signs and hands back; answers whether it is recorded now, its receipt verified.
 * @param {Store} store @param {VerifierKey} logKey @param {KeyRow} key @param {Offer} offer
 */
export async function approve(store, logKey, key, offer) {
  const signatures = [...offer.signatures, { keyid: key.keyid, sig: await signBody(key, offer.body) }];
  const body = writeEnvelope(offer.body, signatures);
  const answer = await (await ask("/v1/waiting", { method: "POST", body, headers: { "content-type": "application/json" } })).json();
  if (answer.status === "waiting") return false;
  // Its receipt is checked as any note's; the signature in its leaf that matters here is this key's.
  const row = { id: offer.event.id, keyid: key.keyid, keycount: offer.event.keycount, body: offer.body, signatures, says: "", group: "", tapped_ms: 0, sent: true };
  await settle(store, logKey, { key, origin: logKey.name }, row, answer);
  return true;
}
