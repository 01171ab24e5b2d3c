// Notes on their way. A tapped note is `pending`: unsigned, and can be taken back. When its time is
// over it takes the next count of its author's key: count and unsigned body are written in one
// transaction, under a lock that all windows share, and only then is it signed (F12). It leaves the
// device's hands when its receipt was verified, never before.

import { fromUtf8, utf8 } from "../agreement/bytes.js";
import { readEnvelope, writeEnvelope } from "../agreement/envelope.js";
import { isLate, parseEvent, writeBody } from "../agreement/event.js";
import { INTEGER_MAX } from "../agreement/limits.js";
import { MINUTE_MS } from "../agreement/time.js";
import { now_ms } from "./clock.js";
import { signBody } from "./keys.js";
import { SEEN, seenOf } from "./trust.js";
import { Trouble } from "./trouble.js";

/** @import { Problem } from "../contracts.js" */
/** @import { VerifierKey } from "../agreement/note.js" */
/** @import { CountRow, NoteRow, Offered, PendingRow, Store } from "./store.js" */

/** How long a tap can be taken back. */
export const TAKE_BACK_MS = MINUTE_MS;
/** Of so many cases the notes can be taken back; a further one signs the oldest. */
export const CASES_PENDING_MAX = 3;
/** What a note says that was tapped in time and signed when the page was opened again. */
const CLOSED_MEANWHILE = "tapped at that time; the page was closed before it could be signed";

/** All windows of this device take counts one after the other. @template T @param {() => Promise<T>} work @returns {Promise<T>} */
const locked = (work) => navigator.locks.request("selachron-counts", work);

/** Keeps a tapped note. @param {Store} store @param {PendingRow} row */
export const tap = (store, row) => store.add("pending", row);

/**
 * Takes back what is still pending of a group; answers whether there was anything.
 * @param {Store} store @param {(row: PendingRow) => boolean} which
 */
export async function takeBack(store, which) {
  return locked(async () => {
    const write = store.transaction("pending", "readwrite");
    const gone = (await write.store.getAll()).filter(which);
    await Promise.all(gone.map(({ id }) => write.store.delete(id)));
    await write.done;
    return gone.length > 0;
  });
}

/**
 * Of the pending notes those whose time to be taken back is over: tapped a minute ago, or with
 * three cases done since.
 * @param {PendingRow[]} pending @param {number} at_ms
 */
export function due(pending, at_ms) {
  const newestFirst = [...pending].sort((a, b) => b.tapped_ms - a.tapped_ms || (a.id < b.id ? 1 : -1));
  const groups = [...new Set(newestFirst.map(({ keyid, group }) => `${keyid} ${group}`))];
  const kept = new Set(groups.slice(0, CASES_PENDING_MAX));
  return pending.filter(({ keyid, group, tapped_ms }) => !kept.has(`${keyid} ${group}`) || at_ms - tapped_ms >= TAKE_BACK_MS);
}

/**
 * Gives pending notes their counts, in the order in which they were tapped, and signs them.
 * @param {Store} store @param {VerifierKey} logKey @param {(pending: PendingRow[]) => PendingRow[]} which
 * @returns {Promise<number>} how many
 */
export async function signPending(store, logKey, which) {
  const counted = await locked(async () => {
    const write = store.transaction(["pending", "counts", "waiting", "values"], "readwrite");
    const rows = which(await write.objectStore("pending").getAll()).sort((a, b) => a.tapped_ms - b.tapped_ms || (a.id < b.id ? -1 : 1));
    const seen = seenOf(await write.objectStore("values").get(SEEN), logKey);
    for (const row of rows) {
      const counts = await write.objectStore("counts").get(row.keyid);
      if (!counts) throw new Trouble("The counts of this key are missing on this device. Have a new key enrolled.");
      const { keycount, rest } = take(counts, row.draft.type === "note.abandoned.v1");
      const body = bodyOf(row, { origin: logKey.name, keyid: row.keyid, keycount, signed_ms: now_ms(), seen });
      const { id, keyid, says, group, tapped_ms } = row;
      await write.objectStore("waiting").add({ id, keyid, keycount, body, signatures: null, says, group, tapped_ms, sent: false });
      await write.objectStore("counts").put(rest);
      await write.objectStore("pending").delete(id);
    }
    await write.done;
    return rows.length;
  });
  await signUnsigned(store);
  return counted;
}

/** @param {PendingRow} row @param {Parameters<typeof writeBody>[1]} by */
function bodyOf({ draft }, by) {
  const late = isLate(draft.time_ms, by.signed_ms) && draft.late === undefined ? { late: CLOSED_MEANWHILE } : {};
  const body = writeBody({ ...draft, ...late }, by);
  // What this device could not read itself it must not sign.
  parseEvent(body);
  return body;
}

/**
 * The count for the next note: one that a refused note set free, if there is any, else the next. A
 * note that gives a count up must not use it.
 * @param {CountRow} counts @param {boolean} nextOnly
 */
export function take(counts, nextOnly) {
  const free = [...counts.free].sort((a, b) => a - b);
  const first = nextOnly ? undefined : free.shift();
  const keycount = first ?? counts.next;
  if (keycount > INTEGER_MAX) throw new Trouble("This key has used all its counts. Have a new key enrolled.");
  return { keycount, rest: { keyid: counts.keyid, next: Math.max(counts.next, keycount + 1), free } };
}

/**
 * Signs what has its count and no signature yet: what was just counted, and what a crash left
 * between the two.
 * @param {Store} store
 */
export async function signUnsigned(store) {
  for (const row of await store.getAll("waiting")) {
    if (row.signatures !== null) continue;
    const key = await store.get("keys", row.keyid);
    if (!key) continue;
    const sig = await signBody(key, row.body);
    const write = store.transaction("waiting", "readwrite");
    const now = await write.store.get(row.id);
    // Another window may have signed it meanwhile; its signature stands.
    if (now && now.signatures === null) await write.store.put({ ...now, signatures: [{ keyid: key.keyid, sig }] });
    await write.done;
  }
}

/** Notes that are signed and wait, in the order in which they were tapped. @param {Store} store */
export async function signed(store) {
  const rows = (await store.getAll("waiting")).filter(({ signatures }) => signatures !== null);
  return rows.sort((a, b) => a.tapped_ms - b.tapped_ms || a.keycount - b.keycount);
}

/** Those to be sent; the others wait at the service for further signatures. @param {Store} store */
export const toSend = async (store) => (await signed(store)).filter(({ offered }) => offered === undefined);

/** Those that wait at the service. @param {Store} store */
export const offeredOnes = async (store) => (await signed(store)).filter(({ offered }) => offered !== undefined);

/** Remembers that a note waits at the service, and for what. @param {Store} store @param {string} id @param {Offered} offered */
export async function markOffered(store, id, offered) {
  const write = store.transaction("waiting", "readwrite");
  const row = await write.store.get(id);
  if (row) await write.store.put({ ...row, offered });
  await write.done;
}

/** The wire form of a signed note. @param {NoteRow} row */
export const envelopeOf = ({ body, signatures }) => writeEnvelope(body, signatures ?? []);

/** Remembers that notes are about to go out: from now on they may be recorded. @param {Store} store @param {NoteRow[]} rows */
export async function markSent(store, rows) {
  const write = store.transaction("waiting", "readwrite");
  for (const { id } of rows) {
    const row = await write.store.get(id);
    if (row) await write.store.put({ ...row, sent: true });
  }
  await write.done;
}

/**
 * A note whose receipt was verified leaves the outbox.
 * @param {Store} store @param {string} id @param {{receipt: string, seq: number}} how
 */
export async function recorded(store, id, how) {
  const write = store.transaction(["waiting", "refused", "recorded", "counts"], "readwrite");
  const row = (await write.objectStore("waiting").get(id)) ?? (await write.objectStore("refused").get(id));
  if (row) {
    const { problem: _problem, offered: _offered, ...note } = row;
    await write.objectStore("recorded").put({ ...note, ...how, settled_ms: now_ms() });
    await write.objectStore("waiting").delete(id);
    await write.objectStore("refused").delete(id);
    const counts = await write.objectStore("counts").get(row.keyid);
    const given = givenUp(row.body);
    if (counts) await write.objectStore("counts").put({ ...counts, free: counts.free.filter((count) => count !== row.keycount && count !== given) });
  }
  await write.done;
}

/** The count that a `note.abandoned` gives up. @param {Uint8Array} body */
function givenUp(body) {
  const event = parseEvent(body);
  return event.type === "note.abandoned.v1" ? event.data.keycount : null;
}

/**
 * A refused note is kept with the reason, and its count is used by the note that takes its place.
 * @param {Store} store @param {string} id @param {Problem} problem
 */
export async function refused(store, id, problem) {
  const write = store.transaction(["waiting", "refused", "counts"], "readwrite");
  const row = await write.objectStore("waiting").get(id);
  if (row) {
    const { offered: _, ...note } = row;
    await write.objectStore("refused").put({ ...note, problem, settled_ms: now_ms() });
    await write.objectStore("waiting").delete(id);
    const counts = await write.objectStore("counts").get(row.keyid);
    if (counts && !counts.free.includes(row.keycount)) await write.objectStore("counts").put({ ...counts, free: [...counts.free, row.keycount] });
  }
  await write.done;
}

/** A person has read why it was refused; it is kept all the same. @param {Store} store @param {string} id */
export async function markRead(store, id) {
  const write = store.transaction("refused", "readwrite");
  const row = await write.store.get(id);
  if (row) await write.store.put({ ...row, read_ms: now_ms() });
  await write.done;
}

/** The waiting notes as a file: one envelope a line, as `selachron post` takes them too. @param {Store} store */
export async function saved(store) {
  return (await signed(store)).map((row) => `${envelopeOf(row)}\n`).join("");
}

/**
 * Takes notes out of such a file; those that are here in any state are passed over.
 * @param {Store} store @param {string} text @param {string} origin
 * @returns {Promise<number>} how many were new
 */
export async function loadSaved(store, text, origin) {
  const rows = text.split("\n").filter((line) => line.trim() !== "").map((line, at) => readSaved(line, at + 1, origin));
  let fresh = 0;
  for (const row of rows) {
    const write = store.transaction(["waiting", "refused", "recorded"], "readwrite");
    const known = await Promise.all([write.objectStore("waiting").get(row.id), write.objectStore("refused").get(row.id), write.objectStore("recorded").get(row.id)]);
    if (known.every((one) => one === undefined)) {
      await write.objectStore("waiting").add(row);
      fresh += 1;
    }
    await write.done;
  }
  return fresh;
}

/** @param {string} line @param {number} number @param {string} origin @returns {NoteRow} */
function readSaved(line, number, origin) {
  try {
    const { body, signatures } = readEnvelope(utf8(line));
    const event = parseEvent(body);
    const named = signatures.map(({ keyid, sig }) => ({ keyid: keyid ?? event.keyid, sig }));
    if (event.source !== `https://${origin}`) throw new Error(`it was written for ${event.source}`);
    return { id: event.id, keyid: event.keyid, keycount: event.keycount, body, signatures: named, says: event.type, group: event.subject, tapped_ms: event.time_ms, sent: true };
  } catch (error) {
    throw new Trouble(`Line ${number} of the file is no waiting note of this record: ${/** @type {Error} */ (error).message}. Nothing was taken from the file.`);
  }
}

/** The body as text, to be read before or after it is signed. @param {NoteRow} row */
export const bodyText = ({ body }) => fromUtf8(body) ?? "";
