// Keys of the people who use this device. A private key is made here, cannot be taken out, and is
// used by nobody but this page: two people have two keys, each with counts of its own.

import { base64, equal, utf8 } from "../agreement/bytes.js";
import { signedBytes } from "../agreement/envelope.js";
import { keyidOf } from "../agreement/names.js";
import { now_ms, randomBytes } from "./clock.js";
import { demandSupport } from "./support.js";
import { Trouble } from "./trouble.js";

/** @import { KeyRow, Store } from "./store.js" */
/** @import { Person } from "../contracts.js" */

/** Rounds of PBKDF2 (RFC 8018). The code keeps hands apart, not thieves; four digits cannot do more. */
const CODE_ROUNDS = 100_000;
const CODE_FORM = /^[0-9]{4,8}$/;

/**
 * Makes a key for a person.
 * @param {Store} store @param {string} name as shown on this device @param {string} code 4 to 8 digits
 * @returns {Promise<KeyRow>}
 */
export async function makeKey(store, name, code) {
  await demandSupport();
  if (name.trim() === "") throw new Trouble("Say whose key it is: a name as it is to be shown on this device.");
  if (!CODE_FORM.test(code)) throw new Trouble("The short code has four to eight digits.");
  const pair = /** @type {CryptoKeyPair} */ (await crypto.subtle.generateKey({ name: "Ed25519" }, false, ["sign", "verify"]));
  const publicKey = new Uint8Array(await crypto.subtle.exportKey("raw", pair.publicKey));
  const salt = randomBytes(16);
  /** @type {KeyRow} */
  const row = {
    keyid: await keyidOf(publicKey),
    publicKey: base64(publicKey),
    privateKey: pair.privateKey,
    name: name.trim(),
    code: { salt, hash: await hashOf(code, salt) },
    made_ms: now_ms(),
    standing: "made",
    person: "",
    roles: [],
  };
  const both = store.transaction(["keys", "counts"], "readwrite");
  await both.objectStore("keys").add(row);
  await both.objectStore("counts").add({ keyid: row.keyid, next: 1, free: [] });
  await both.done;
  return row;
}

/** @param {string} code @param {Uint8Array<ArrayBuffer>} salt */
async function hashOf(code, salt) {
  const secret = await crypto.subtle.importKey("raw", utf8(code), "PBKDF2", false, ["deriveBits"]);
  return new Uint8Array(await crypto.subtle.deriveBits({ name: "PBKDF2", hash: "SHA-256", salt, iterations: CODE_ROUNDS }, secret, 256));
}

/** Whether this is the person's short code. @param {KeyRow} key @param {string} code */
export async function opens(key, code) {
  return CODE_FORM.test(code) && equal(await hashOf(code, Uint8Array.from(key.code.salt)), key.code.hash);
}

/** @param {KeyRow} key @param {Uint8Array<ArrayBuffer>} message */
export async function sign(key, message) {
  return new Uint8Array(await crypto.subtle.sign({ name: "Ed25519" }, key.privateKey, message));
}

/** Signs a note (F6). @param {KeyRow} key @param {Uint8Array} body */
export const signBody = (key, body) => sign(key, signedBytes(body));

/** Every key on this device, the oldest first. @param {Store} store */
export async function allKeys(store) {
  const rows = await store.getAll("keys");
  return rows.sort((a, b) => a.made_ms - b.made_ms);
}

/** What the screens may know of a key. @param {KeyRow} row @returns {Person} */
export const personOf = ({ keyid, name, publicKey, standing, person, roles }) => ({ keyid, name, publicKey, standing, person, roles });

/**
 * Notes what the service says of a key: enrolled, with person and roles, or ended.
 * @param {Store} store @param {string} keyid @param {Pick<KeyRow, "standing"|"person"|"roles">} said
 */
export async function noteStanding(store, keyid, said) {
  const write = store.transaction("keys", "readwrite");
  const row = await write.store.get(keyid);
  if (row) await write.store.put({ ...row, ...said });
  await write.done;
}

/** What two people read to each other to know that they mean the same key: the key id in groups. @param {string} keyid */
export const spokenKeyid = (keyid) => (keyid.match(/.{4}/g) ?? []).join(" ");
