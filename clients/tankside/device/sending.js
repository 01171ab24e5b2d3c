// Sending what waits, and believing nothing that comes back before it was checked: the leaf of this
// very body with this very signature, its place in the tree, the checkpoint under the pinned key,
// and that the tree has only grown (F17).

import { equal, fromBase64, sha256 } from "../agreement/bytes.js";
import { signedBytes } from "../agreement/envelope.js";
import { verify } from "../agreement/ed25519.js";
import { parseEvent } from "../agreement/event.js";
import { BATCH_EVENTS_MAX, BODY_BYTES_MAX } from "../agreement/limits.js";
import { parseReceipt, receiptFault } from "../agreement/receipt.js";
import { now_ms } from "./clock.js";
import { envelopeOf, markOffered, markSent, offeredOnes, recorded, refused, toSend } from "./outbox.js";
import { ask, problemTrouble, prover, readHashes } from "./service.js";
import { Broken, Trouble } from "./trouble.js";
import { accept } from "./trust.js";

/** @import { VerifierKey } from "../agreement/note.js" */
/** @import { NoteRow, Store } from "./store.js" */
/** @import { Reader } from "./service.js" */

/** How often it is asked whether a note that waits at the service has its signatures. */
const ASK_OFFERED_EVERY_MS = 60_000;
/** Problems that pass: the note waits and is sent again. */
const NOT_NOW = ["busy", "clock-went-back", "disk-full", "sealed", "broken", "too-many-requests"];

/**
 * Sends all that waits, one window at a time. Answers whether another window was at it.
 * @param {Store} store @param {VerifierKey} logKey @param {Reader|null} reader whose tokens fetch proofs
 * @param {boolean} grown whether the log has grown, so that what waits at the service may be recorded
 */
export function sendAll(store, logKey, reader, grown) {
  return navigator.locks.request("selachron-sending", { ifAvailable: true }, async (lock) => {
    if (!lock) return false;
    // Each note leaves the outbox or stops the sending, so this ends; what was signed meanwhile goes too.
    for (let rows = await toSend(store); rows.length > 0; rows = await toSend(store)) {
      for (const batch of batches(rows)) await sendBatch(store, logKey, reader, batch);
    }
    for (const row of await offeredOnes(store)) {
      if (grown || now_ms() - (row.offered?.asked_ms ?? 0) > ASK_OFFERED_EVERY_MS) await offer(store, logKey, reader, row);
    }
    return true;
  });
}

/** Notes cut into requests that the service accepts. @param {NoteRow[]} rows */
export function batches(rows) {
  /** @type {NoteRow[][]} */
  const found = [];
  let bytes = BODY_BYTES_MAX;
  for (const row of rows) {
    const length = envelopeOf(row).length + 1;
    const last = found.at(-1);
    if (!last || last.length >= BATCH_EVENTS_MAX || bytes + length > BODY_BYTES_MAX) {
      found.push([row]);
      bytes = length;
    } else {
      last.push(row);
      bytes += length;
    }
  }
  return found;
}

/** @param {Store} store @param {VerifierKey} logKey @param {Reader|null} reader @param {NoteRow[]} rows */
async function sendBatch(store, logKey, reader, rows) {
  await markSent(store, rows);
  const body = rows.map((row) => `${envelopeOf(row)}\n`).join("");
  const response = await ask("/v1/events", { method: "POST", body, headers: { "content-type": "application/x-ndjson" } });
  const lines = (await response.text()).split("\n").filter((line) => line.trim() !== "");
  if (lines.length !== rows.length) throw new Trouble(`${rows.length} notes were sent and ${lines.length} answers came back; they are sent again.`);
  for (const [at, row] of rows.entries()) await settle(store, logKey, reader, row, JSON.parse(lines[at] ?? "null"));
}

/**
 * Takes one answer in.
 * @param {Store} store @param {VerifierKey} logKey @param {Reader|null} reader @param {NoteRow} row @param {any} answer
 * @returns {Promise<void>}
 */
export async function settle(store, logKey, reader, row, answer) {
  if (answer?.status === "refused") {
    const { problem: name, message: detail, pointer } = problemTrouble(answer.problem);
    // Order is kept: what follows a note that was not taken now waits too.
    if (NOT_NOW.includes(name)) throw new Trouble(detail, { name });
    // A decision that wants further signatures and nothing else waits for them at the service.
    if (Array.isArray(answer.problem.wants) && answer.problem.wants.length > 0 && row.offered === undefined) return offer(store, logKey, reader, row);
    await refused(store, row.id, { name, detail, ...(pointer === undefined ? {} : { pointer }) });
    return;
  }
  if (answer?.status !== "recorded") throw new Trouble("The service's answer to a note cannot be understood; it is sent again.");
  await check(store, logKey, reader, row, answer);
  await recorded(store, row.id, { receipt: answer.receipt, seq: answer.seq });
}

/**
 * Puts a note where those whose approval it wants find it, or asks what became of it there.
 * @param {Store} store @param {VerifierKey} logKey @param {Reader|null} reader @param {NoteRow} row
 * @returns {Promise<void>}
 */
export async function offer(store, logKey, reader, row) {
  let answer;
  try {
    answer = await (await ask("/v1/waiting", { method: "POST", body: envelopeOf(row), headers: { "content-type": "application/json" } })).json();
  } catch (error) {
    if (!(error instanceof Trouble) || error.problem === "" || NOT_NOW.includes(error.problem)) throw error;
    const { problem: name, message: detail, pointer } = error;
    return refused(store, row.id, { name, detail, ...(pointer === undefined ? {} : { pointer }) });
  }
  if (answer.status === "waiting") return markOffered(store, row.id, { wants: answer.wants, asked_ms: now_ms() });
  return settle(store, logKey, reader, row, answer);
}

/** @param {Store} store @param {VerifierKey} logKey @param {Reader|null} reader @param {NoteRow} row @param {any} answer */
async function check(store, logKey, reader, row, answer) {
  const broken = (/** @type {string} */ what) => new Broken(`The receipt of a note does not hold: ${what}. The note stays on this device; call the registrar.`);
  const receipt = readReceipt(answer.receipt, broken);
  const { leaf } = receipt;
  if (answer.id !== row.id || !equal(leaf.bodySha256, await sha256(row.body))) throw broken("it is of another note");
  if (leaf.seq !== answer.seq || leaf.subjectVersion !== answer.subject_version) throw broken("its leaf says another place than the answer");
  const fault = await receiptFault(receipt, logKey);
  if (fault !== null) throw broken(fault);
  await checkOwnSignature(store, row, leaf.signatures, broken);
  const { seen } = parseEvent(row.body);
  const given = seen && answer.consistency !== undefined ? { seen, proof: readHashes(answer.consistency) } : null;
  await accept(store, logKey, receipt.checkpoint, prover(reader), given);
}

/** @param {string} text @param {(what: string) => Broken} broken */
function readReceipt(text, broken) {
  try {
    return parseReceipt(text);
  } catch (error) {
    throw broken(/** @type {Error} */ (error).message);
  }
}

/**
 * The leaf holds the signature that was sent, or another valid one by the same key: a note that was
 * recorded before may have been signed twice (F6).
 * @param {Store} store @param {NoteRow} row @param {{keyid: string, sig: Uint8Array}[]} inLeaf @param {(what: string) => Broken} broken
 */
async function checkOwnSignature(store, row, inLeaf, broken) {
  const own = inLeaf.find(({ keyid }) => keyid === row.keyid);
  if (!own) throw broken("its leaf lacks the author's signature");
  if ((row.signatures ?? []).some(({ sig }) => equal(sig, own.sig))) return;
  const key = await store.get("keys", row.keyid);
  const publicKey = key && fromBase64(key.publicKey);
  if (!publicKey || !(await verify(publicKey, signedBytes(row.body), own.sig))) throw broken("the author's signature in its leaf is not one over this body");
}
