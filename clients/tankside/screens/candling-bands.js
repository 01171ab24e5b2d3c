// The seven bands in one order, then what else one look can say. Each button shows what it signs.

import { html } from "../html.js";
import { BANDS } from "../look/drawings/bands.js";
import { drawCase, numbersOf } from "../look/drawings/case.js";
import { Drawing, Says } from "./parts/controls.js";

/** @import { Draft } from "./notes/note.js" */

/** The order in which they stand, wherever they stand. */
const ORDER = [...BANDS.slice(1).map(({ band }) => band), null, 0];
/** The key of each band, as its box is headed on paper. @param {number|null} band */
const keyOf = (band) => (band === null ? "x" : String(band));

/**
 * @typedef {object} BandsProps
 * @property {string} [shape]
 * @property {(band: number|null) => Pick<Draft, "saying">} say what a tap on it says
 * @property {(band: number|null) => void} tap
 * @property {number|null} [held] the band that is chosen, where a tap chooses and does not sign yet
 * @property {boolean} [keyed] whether the keys of the boxes on paper stand on them
 */

/** @param {BandsProps} props */
export const Bands = (props) => html`<div class="bands" role="group" aria-label="What the torch shows">${ORDER.map((band) => html`<${Band} key=${keyOf(band)} ...${props} band=${band} />`)}</div>`;

/** @param {BandsProps & {band: number|null}} props */
function Band({ band, shape, say, tap, held, keyed = false }) {
  const numbers = band === null ? { shape, yolk: 0, body: 0, seen: false } : numbersOf({ band }, shape);
  return html`
    <button type="button" class="band" data-band=${band ?? "none"} aria-pressed=${keyed ? band === held : null} aria-keyshortcuts=${keyed ? keyOf(band) : null} onClick=${() => tap(band)}>
      ${keyed ? html`<span class="band-key" aria-hidden="true">${band === null ? "×" : band}</span>` : null}
      <${Drawing} svg=${drawCase(numbers, { silent: true })} />
      <${Says} says=${say(band).saying.says} />
    </button>
  `;
}
