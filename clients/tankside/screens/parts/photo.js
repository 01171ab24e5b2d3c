// A photo, taken or chosen. What a note keeps of it: the hash of the original, the hash of a smaller
// copy without position data, when it was taken, and which side. Histories show the copy.

import { useEffect, useState } from "preact/hooks";
import { html } from "../../html.js";

/** @import { KeptPhoto, Nursery } from "../../contracts.js" */

/** @param {{nursery: Nursery, photo: KeptPhoto|null, onKept: (photo: KeptPhoto) => void, label?: string}} props */
export function Photo({ nursery, photo, onKept, label = "Take a photo" }) {
  const [trouble, setTrouble] = useState("");
  const chosen = async (/** @type {any} */ event) => {
    const file = /** @type {File|undefined} */ (event.currentTarget.files?.[0]);
    if (!file) return;
    setTrouble("");
    try {
      onKept(await nursery.keepPhoto(file));
    } catch (error) {
      setTrouble(error instanceof Error ? error.message : String(error));
    }
  };
  return html`
    <label class="photo-key">
      <input class="unseen" type="file" accept="image/*" capture="environment" onChange=${chosen} />
      <span>${photo ? "Photo kept; take another" : label}</span>
    </label>
    ${photo ? html`<p class="hint">The original's fingerprint begins with ${photo.photo_sha256.slice(0, 12)}. Its copy goes along without where it was taken.</p>` : null}
    ${trouble ? html`<p class="trouble" role="alert">${trouble}</p>` : null}
  `;
}

/** The copy of a photo that a note names, when somebody wants to see it. @param {{nursery: Nursery, sha256: string, words: string}} props */
export function ShownPhoto({ nursery, sha256, words }) {
  const [url, setUrl] = useState("");
  const [trouble, setTrouble] = useState("");
  useEffect(() => () => URL.revokeObjectURL(url), [url]);
  const show = () => nursery.fetchFile(`/v1/evidence/${sha256}`).then((blob) => setUrl(URL.createObjectURL(blob)), (error) => setTrouble(error.message));
  if (url) return html`<img class="photo" src=${url} alt=${words} />`;
  return html`<button type="button" class="choice-key" onClick=${show}>Show the photo</button>${trouble ? html`<p class="hint">Not here: ${trouble}</p>` : null}`;
}
