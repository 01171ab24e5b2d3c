// One case: its life strip, where it is, and the ways on.

import { html } from "../html.js";
import { useNursery, useReading } from "../shell/hooks.js";
import { proofSign, stripFinding } from "../look/drawings/life-strip.js";
import { drawCase, numbersOf } from "../look/drawings/case.js";
import { Drawing, Fresh } from "./parts/controls.js";
import { clock, day, since } from "./parts/days.js";
import { isOpen } from "./parts/open.js";
import { labelOf, shapeOf, useEggs, useItems, useTanks, zoneOf } from "./parts/reading.js";

/** @import { ScreenProps } from "../contracts.js" */

/** @param {ScreenProps} props */
export default function Case({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const species = useItems(nursery, "/v1/species");
  const egg = eggs.items.find(({ id }) => id === `egg/${params.egg}`);
  const zone = zoneOf(nursery);
  if (!egg) return html`<${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  const kind = species.items.find(({ id }) => id === egg.species);
  const laid = egg.laid_window;
  return html`
    <div class="hand">
      <header class="card-head"><h2 class="case-label">${egg.label}</h2><span>${kind?.common_name ?? ""}</span></header>
      <p>${isOpen(egg) ? labelOf(tanks.items, egg.place?.tank) : fateWords(egg, nursery.now(), zone)} · laid ${laid.not_before ? `between ${day(laid.not_before, zone)} and ` : "not after "}${day(laid.not_after, zone)} (${laid.basis})</p>
      <${Strip} looks=${stripLooks(egg.looks, zone)} shape=${shapeOf(species.items, egg.species)} label=${egg.label} />
      ${egg.discrepancies.filter((/** @type {any} */ one) => one.open).map((/** @type {any} */ one) => html`<p class="ask-again">${one.says}</p>`)}
      ${isOpen(egg) ? html`
        <a class="go" href=${`#/candling/${egg.id}`}>Look at it now</a>
        <a class="key-wide" href=${`#/hatched/${egg.id}`}>It hatched</a>
        <a class="key-wide" href="#/recheck">Hold apart, or lost</a>
        <a class="key-wide" href=${`#/opening/${egg.id}`}>What speaks for and against opening</a>
        <a class="quiet-link" href=${`#/put-down/${egg.id}`}>It was put down by decision: note it</a>` : null}
      <a class="key-wide" href=${`#/as-known/${egg.id}`}>Its whole history, as known on any day</a>
      <${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
  `;
}

/** @param {any} egg @param {number} now @param {string} zone */
const fateWords = ({ fate }, now, zone) => `${fate.state.replaceAll("_", " ")}${fate.apparent_cause ? `, apparent cause: ${fate.apparent_cause}` : ""}, ${since(fate.time, now, zone)}`;

/** Looks as frames of a strip. @param {any[]} looks @param {string} zone @returns {import("../look/drawings/life-strip.js").StripLook[]} */
export const stripLooks = (looks, zone) => looks.map((look) => ({ ...look, day: day(look.time, zone), proof: look.proof ?? (look.here === undefined || look.here === "recorded" ? "recorded" : "waiting") }));

/** The life strip as a list, so that it wraps on any glass. @param {{looks: import("../look/drawings/life-strip.js").StripLook[], shape?: string, label: string}} props */
export function Strip({ looks, shape, label }) {
  return html`
    <figure class="strip-figure" aria-label=${`${label}. ${stripFinding(looks)}`}>
      <ol class="strip">
        ${looks.map((look) => html`
          <li class="strip-frame" data-proof=${look.proof.replaceAll(" ", "-")}>
            <${Drawing} svg=${drawCase(numbersOf(look, shape), { title: `Look on ${look.day}` })} />
            <span class="strip-day">${look.day}</span>
            <span class="strip-proof"><${Drawing} kind="sign-mark" svg=${proofSign(look.proof)} /> ${look.proof}</span>
          </li>`)}
      </ol>
      <figcaption>${stripFinding(looks)}</figcaption>
    </figure>
  `;
}
