// Everything that this device keeps, in one database: keys and their counts, notes on their way,
// answers for off line. Stores are written in single transactions, so that whatever a crash or a
// second window does, a count is never used without its body, nor a body without its count.

import { openDB } from "idb";

/** @import { IDBPDatabase } from "idb" */
/** @import { Draft } from "../agreement/event.js" */
/** @import { Problem } from "../contracts.js" */

/**
 * A person's key on this device.
 * @typedef {object} KeyRow
 * @property {string} keyid
 * @property {string} publicKey base64
 * @property {CryptoKey} privateKey non-extractable: no page, this one included, can read it
 * @property {string} name
 * @property {{salt: Uint8Array, hash: Uint8Array}} code the short code, hashed
 * @property {number} made_ms
 * @property {"made"|"enrolled"|"ended"} standing
 * @property {string} person
 * @property {string[]} roles
 */

/**
 * Which counts a key has used (F12).
 * @typedef {object} CountRow
 * @property {string} keyid
 * @property {number} next the next that was never used
 * @property {number[]} free those of refused notes, to be used again
 */

/**
 * A note that was tapped and is not signed.
 * @typedef {object} PendingRow
 * @property {string} id
 * @property {string} keyid
 * @property {Draft} draft
 * @property {string} says
 * @property {string} group
 * @property {string} screen on which it was tapped
 * @property {number} tapped_ms
 */

/**
 * What a note waits for at the service.
 * @typedef {object} Offered
 * @property {{roles?: string[], persons?: number, key?: string}[]} wants
 * @property {number} asked_ms when it was last asked whether it has them
 */

/**
 * A note that has its count. `sig` is null between the transaction and the signature.
 * @typedef {object} NoteRow
 * @property {string} id
 * @property {string} keyid
 * @property {number} keycount
 * @property {Uint8Array} body the bytes that are signed
 * @property {{keyid: string, sig: Uint8Array}[]|null} signatures
 * @property {string} says
 * @property {string} group
 * @property {number} tapped_ms
 * @property {boolean} sent whether it was ever on its way
 * @property {Problem} [problem]
 * @property {number} [read_ms] when a person read why it was refused
 * @property {Offered} [offered] it is signed and wants others' signatures: it waits at the service
 * @property {string} [receipt]
 * @property {number} [seq]
 * @property {number} [settled_ms]
 */

/**
 * @typedef {object} ReadingRow
 * @property {string} path
 * @property {any} body
 * @property {number} when_ms
 */

/**
 * A file that a note names, until the service has it.
 * @typedef {object} FileRow
 * @property {string} sha256 hexadecimal
 * @property {Blob} blob
 * @property {boolean} sent
 * @property {number} kept_ms
 */

/**
 * @typedef {object} Schema
 * @property {{key: string, value: KeyRow}} keys
 * @property {{key: string, value: CountRow}} counts
 * @property {{key: string, value: PendingRow}} pending
 * @property {{key: string, value: NoteRow}} waiting
 * @property {{key: string, value: NoteRow}} refused
 * @property {{key: string, value: NoteRow, indexes: {settled: number}}} recorded
 * @property {{key: string, value: ReadingRow}} readings
 * @property {{key: string, value: FileRow}} files
 * @property {{key: string, value: any}} values pinned key, newest checkpoint, settings, who is in hand
 */

/** @typedef {IDBPDatabase<Schema>} Store */

const KEYED = /** @type {const} */ ([
  ["keys", "keyid"],
  ["counts", "keyid"],
  ["pending", "id"],
  ["waiting", "id"],
  ["refused", "id"],
  ["readings", "path"],
  ["files", "sha256"],
]);

/**
 * Opens the database of this device.
 * @param {string} [name]
 * @returns {Promise<Store>}
 */
export function openStore(name = "selachron") {
  return openDB(name, 1, {
    upgrade(database) {
      for (const [store, keyPath] of KEYED) database.createObjectStore(store, { keyPath });
      database.createObjectStore("recorded", { keyPath: "id" }).createIndex("settled", "settled_ms");
      database.createObjectStore("values");
    },
    // Another window wants a newer form: let it, rather than hold it up.
    blocking: (_now, _wanted, event) => /** @type {IDBDatabase} */ (event.target).close(),
  });
}

/** Asks the browser to keep what is here; answers whether it promised. @returns {Promise<boolean>} */
export async function askToKeep() {
  const storage = navigator.storage;
  if (!storage?.persist) return false;
  return (await storage.persisted()) || (await storage.persist());
}
