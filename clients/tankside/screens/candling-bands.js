// The seven bands in one order, then what else one look can say. Each button shows what it signs.

import { html } from "../html.js";
import { BANDS } from "../look/drawings/bands.js";
import { drawCase, numbersOf } from "../look/drawings/case.js";
import { Drawing, Says } from "./parts/controls.js";

/** @import { Draft } from "./notes/note.js" */

/** @param {{shape?: string, say: (band: number|null) => Draft, tap: (band: number|null) => void}} props */
export function Bands({ shape, say, tap }) {
  const bands = BANDS.slice(1);
  return html`
    <div class="bands" role="group" aria-label="What the torch shows">
      ${bands.map(({ band }) => html`<${Band} key=${band} band=${band} shape=${shape} say=${say} tap=${tap} />`)}
      <${Band} key="none" band=${null} shape=${shape} say=${say} tap=${tap} />
      <${Band} key="0" band=${0} shape=${shape} say=${say} tap=${tap} />
    </div>
  `;
}

/** @param {{band: number|null, shape?: string, say: (band: number|null) => Draft, tap: (band: number|null) => void}} props */
function Band({ band, shape, say, tap }) {
  const numbers = band === null ? { shape, yolk: 0, body: 0, seen: false } : numbersOf({ band }, shape);
  return html`
    <button type="button" class="band" data-band=${band ?? "none"} onClick=${() => tap(band)}>
      <${Drawing} svg=${drawCase(numbers, { silent: true })} />
      <${Says} says=${say(band).saying.says} />
    </button>
  `;
}
