// Files that notes name by their SHA-256: kept here until the service has them, which takes a file
// only once a recorded note names it (SPEC, choice 42).

import { hex, sha256 } from "../agreement/bytes.js";
import { now_ms } from "./clock.js";
import { ask } from "./service.js";
import { Trouble } from "./trouble.js";

/** @import { Reader } from "./service.js" */
/** @import { Store } from "./store.js" */

/** Keeps a file; answers its hash. @param {Store} store @param {Blob} blob */
export async function keep(store, blob) {
  const hash = hex(await sha256(new Uint8Array(await blob.arrayBuffer())));
  const known = await store.get("files", hash);
  if (!known) await store.put("files", { sha256: hash, blob, sent: false, kept_ms: now_ms() });
  return hash;
}

/**
 * Sends what recorded notes name by now; what is not named yet stays, and so does all while nobody
 * is in hand whose key is enrolled.
 * @param {Store} store @param {Reader|null} reader whose tokens send it
 */
export async function sendFiles(store, reader) {
  if (!reader) return;
  for (const row of await store.getAll("files")) {
    if (row.sent) continue;
    try {
      await ask(`/v1/evidence/${row.sha256}`, { method: "PUT", body: row.blob, headers: { "content-type": row.blob.type || "application/octet-stream" } }, reader);
      await store.put("files", { ...row, sent: true });
    } catch (error) {
      // Refused means: no recorded note names it yet. Unreachable is for the caller to know.
      if (!(error instanceof Trouble) || error.status === 0) throw error;
    }
  }
}
