// How a key gets into the record (F11). The key is made here; a registrar, on another machine,
// writes and signs the enrolment and leaves it at the service's waiting place; this device finds
// it there, because it can prove that it holds the key, shows what it says, and signs that very
// body: the proof of possession.

import { equal, fromBase64, fromUtf8, utf8 } from "../agreement/bytes.js";
import { readEnvelope, writeEnvelope } from "../agreement/envelope.js";
import { parseEvent } from "../agreement/event.js";
import { keyidOf } from "../agreement/names.js";
import { noteStanding, signBody } from "./keys.js";
import { settle } from "./sending.js";
import { ask, askJson } from "./service.js";
import { Trouble } from "./trouble.js";

/** @import { Event } from "../agreement/event.js" */
/** @import { VerifierKey } from "../agreement/note.js" */
/** @import { KeyRow, Store } from "./store.js" */
/** @import { Reader } from "./service.js" */

/**
 * An enrolment that waits for this key's signature.
 * @typedef {object} Offer
 * @property {Event} event
 * @property {Uint8Array} body the bytes that would be signed
 * @property {string} text the same, to be read
 * @property {{keyid: string, sig: Uint8Array}[]} signatures those it has
 */

/**
 * What a key's standing is, by the service's word.
 * @param {Store} store @param {Reader} reader
 */
export async function lookUp(store, { key, origin }) {
  try {
    const { item } = await askJson(`/v1/keys/${key.keyid}`, { key, origin });
    const standing = item.in_force ? "enrolled" : "ended";
    await noteStanding(store, key.keyid, { standing, person: item.person, roles: item.roles });
  } catch (error) {
    // Not enrolled, or no longer in force: the service takes no token of such a key for this.
    if (!(error instanceof Trouble) || error.status === 0) throw error;
    if (key.standing === "enrolled" && error.problem === "token-invalid") await noteStanding(store, key.keyid, { standing: "ended", person: key.person, roles: key.roles });
  }
}

/**
 * The enrolment that waits for this key, if a registrar has left one.
 * @param {Reader} reader
 * @returns {Promise<Offer|null>}
 */
export async function findOffer({ key, origin }) {
  let items = [];
  try {
    ({ items } = await askJson("/v1/waiting", { key, origin }));
  } catch (error) {
    // As long as no enrolment waits that names this key, its tokens open nothing.
    if (error instanceof Trouble && error.status !== 0) return null;
    throw error;
  }
  for (const item of items) {
    const offer = readOffer(item.envelope);
    if (await isFor(offer, key)) return offer;
  }
  return null;
}

/** @param {string} envelope @returns {Offer} */
function readOffer(envelope) {
  const { body, signatures } = readEnvelope(utf8(envelope));
  const event = parseEvent(body);
  const named = signatures.map(({ keyid, sig }) => ({ keyid: keyid ?? event.keyid, sig }));
  return { event, body, text: fromUtf8(body) ?? "", signatures: named };
}

/**
 * Whether it enrols this very key: subject, key id and public key, and is not signed here yet.
 * @param {Offer} offer @param {KeyRow} key
 */
async function isFor({ event, signatures }, key) {
  const [shown, own] = [fromBase64(String(event.data.public_key ?? "")), fromBase64(key.publicKey)];
  const same = shown && own && equal(shown, own) && (await keyidOf(own)) === key.keyid;
  return event.type === "key.enrolled.v1" && event.subject === `key/${key.keyid}` && same === true && !signatures.some(({ keyid }) => keyid === key.keyid);
}

/**
 * Signs the enrolment and hands it back. Answers whether it is recorded now, its receipt verified;
 * if not it waits for others' signatures.
 * @param {Store} store @param {VerifierKey} logKey @param {KeyRow} key @param {Offer} offer
 */
export async function signOffer(store, logKey, key, offer) {
  const signatures = [...offer.signatures, { keyid: key.keyid, sig: await signBody(key, offer.body) }];
  const body = writeEnvelope(offer.body, signatures);
  const answer = await (await ask("/v1/waiting", { method: "POST", body, headers: { "content-type": "application/json" } })).json();
  if (answer.status === "waiting") return false;
  // Its receipt is checked as any note's; the signature in its leaf that matters here is this key's.
  const row = { id: offer.event.id, keyid: key.keyid, keycount: offer.event.keycount, body: offer.body, signatures, says: "", group: "", tapped_ms: 0, sent: true };
  const reader = { key, origin: logKey.name };
  await settle(store, logKey, reader, row, answer);
  await lookUp(store, reader);
  return true;
}
