// A photo, taken or chosen. What is kept as data is the hash of the original and when it was taken;
// the file itself waits on the device until the note that names it is recorded.

import { useState } from "preact/hooks";
import { html } from "../../html.js";

/** @import { Nursery } from "../../contracts.js" */

/** @param {{nursery: Nursery, sha256: string, onKept: (kept: {sha256: string, taken_ms: number}) => void, label?: string}} props */
export function Photo({ nursery, sha256, onKept, label = "Take a photo" }) {
  const [trouble, setTrouble] = useState("");
  const chosen = async (/** @type {any} */ event) => {
    const file = /** @type {File|undefined} */ (event.currentTarget.files?.[0]);
    if (!file) return;
    setTrouble("");
    try {
      onKept({ sha256: await nursery.keepFile(file), taken_ms: file.lastModified });
    } catch (error) {
      setTrouble(error instanceof Error ? error.message : String(error));
    }
  };
  return html`
    <label class="photo-key">
      <input class="unseen" type="file" accept="image/*" capture="environment" onChange=${chosen} />
      <span>${sha256 ? "Photo kept; take another" : label}</span>
    </label>
    ${sha256 ? html`<p class="hint">The original's fingerprint: ${sha256.slice(0, 16)}…</p>` : null}
    ${trouble ? html`<p class="trouble" role="alert">${trouble}</p>` : null}
  `;
}
