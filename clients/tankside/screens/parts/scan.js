// A label read by the camera, where a screen asks for one.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { Scanner } from "../../shell/scanner.js";

/** @param {{found: (text: string) => string|null, label?: string}} props found: answers why a label does not fit; null when it does */
export function Scan({ found, label = "Scan its label" }) {
  const [open, setOpen] = useState(false);
  const [wrong, setWrong] = useState("");
  const read = (/** @type {string} */ text) => {
    const why = found(text);
    setWrong(why ?? "");
    if (why === null) setOpen(false);
  };
  return html`
    <button type="button" class="key-wide" aria-expanded=${open} onClick=${() => setOpen(!open)}>${label}</button>
    ${open ? html`<${Scanner} onFound=${read} />` : null}
    ${wrong ? html`<p class="ask-again" role="status">${wrong}</p>` : null}
  `;
}
