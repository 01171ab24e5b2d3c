// How a key gets into the record (F11). The key is made here; a registrar, on another machine,
// writes and signs the enrolment and leaves it at the service's waiting place; this device finds
// it there, because it can prove that it holds the key, shows what it says, and signs that very
// body: the proof of possession.

import { equal, fromBase64 } from "../agreement/bytes.js";
import { keyidOf } from "../agreement/names.js";
import { approve, readOffer } from "./approving.js";
import { noteStanding } from "./keys.js";
import { askJson } from "./service.js";
import { Trouble } from "./trouble.js";

/** @import { VerifierKey } from "../agreement/note.js" */
/** @import { Offer } from "./approving.js" */
/** @import { KeyRow, Store } from "./store.js" */
/** @import { Reader } from "./service.js" */

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
  const done = await approve(store, logKey, key, offer);
  if (done) await lookUp(store, { key, origin: logKey.name });
  return done;
}
