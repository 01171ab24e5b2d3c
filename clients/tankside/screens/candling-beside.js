// When the case in the hand is another than on the glass, or none is there.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { SEARCHED, missing } from "./notes/candling.js";
import { ChooseAny, Sign } from "./parts/controls.js";
import { Scan } from "./parts/scan.js";

/** @import { Nursery } from "../contracts.js" */
/** @import { Cell } from "./parts/tray.js" */

/** The case whose label or subject the camera read. @param {string} text @param {Cell[]} others @param {(egg: string) => void} choose */
function foundBy(text, others, choose) {
  const found = others.find(({ egg }) => text === egg.label || text.includes(egg.id));
  if (!found) return `${text.slice(0, 40)} is no case of this tray that is still to come.`;
  choose(found.egg.id);
  return null;
}

/** @param {{others: Cell[], choose: (egg: string) => void, back: () => void}} props */
export function NotThisCase({ others, choose, back }) {
  return html`
    <section aria-label="Which case is it?">
      <h2>Which case is in your hand?</h2>
      <${Scan} found=${(/** @type {string} */ text) => foundBy(text, others, choose)} />
      <div class="label-grid">
        ${others.map(({ egg, label }) => html`<button type="button" class="label-key" onClick=${() => choose(egg.id)}><b>${egg.label}</b> <span>${label}</span></button>`)}
      </div>
      <button type="button" class="key-wide" onClick=${back}>It is this one</button>
    </section>
  `;
}

/** @param {{nursery: Nursery, egg: any, others: Cell[], skip: (egg: string) => void, done: (acting: Promise<any>, egg: string) => void, back: () => void}} props */
export function NotHere({ nursery, egg, others, skip, done, back }) {
  const [searched, setSearched] = useState(/** @type {string[]} */ ([]));
  return html`
    <section aria-label=${`${egg.label} is not in its place`}>
      <h2>${egg.label} is not in its place</h2>
      ${others.length > 0 ? html`<button type="button" class="key-wide primary" onClick=${() => skip(egg.id)}>Go on; it comes again at the end</button>` : null}
      <${ChooseAny} legend="Where was it looked for?" options=${SEARCHED} held=${searched} onChange=${setSearched} />
      <${Sign} nursery=${nursery} notes=${[missing({ egg: egg.id, searched })]} onSigned=${() => done(Promise.resolve(), egg.id)} />
      <button type="button" class="key-wide" onClick=${back}>Back</button>
    </section>
  `;
}
