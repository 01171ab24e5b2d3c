// Labels to print: one a case, a place or the tank, with a code that says the id, so that a camera
// finds it again. Works off line from what this device last heard.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { Picture } from "../shell/device.js";
import { Choose, Fresh } from "./parts/controls.js";
import { clock, moment } from "./parts/days.js";
import { labelOf, useItems, useTanks, zoneOf } from "./parts/reading.js";

/** @import { ScreenProps } from "../contracts.js" */

const WHAT = /** @type {const} */ ({ eggs: "its cases", places: "its places", tanks: "this tank" });

/** @param {ScreenProps} props */
export default function Labels({ nursery, params }) {
  useNursery(nursery);
  const tanks = useTanks(nursery);
  const [what, setWhat] = useState("eggs");
  const stickers = useItems(nursery, `/v1/labels?of=${what}&tank=${params.tank}`);
  const zone = zoneOf(nursery);
  return html`
    <div class="desk labels">
      <div class="no-print">
        <${Choose} legend=${`Labels of ${labelOf(tanks.items, `tank/${params.tank}`)}`} options=${Object.keys(WHAT)} held=${what} onChoose=${setWhat} words=${(/** @type {keyof typeof WHAT} */ one) => WHAT[one]} />
        <button type="button" class="go" disabled=${stickers.items.length === 0} onClick=${() => globalThis.print()}>Print ${stickers.items.length} labels</button>
        <${Fresh} read=${stickers} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
      </div>
      ${stickers.reading && stickers.items.length === 0 ? html`<p>There is nothing to label.</p>` : null}
      <ul class="label-sheet" aria-label="Labels">
        ${stickers.items.map(({ subject, label, below }) => html`<li key=${subject} class="label-sticker"><${Picture} text=${subject} /><span><b data-long=${[...label].length > 10 ? "" : null}>${label}</b><span>${below}</span></span></li>`)}
      </ul>
      <p class="hint">Made ${moment(nursery.now(), zone)}. A code says an id and nothing else. Stick a label on the tray or a tag beside the case, never on its slits.</p>
    </div>
  `;
}
