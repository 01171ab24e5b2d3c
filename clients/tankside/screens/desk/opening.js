// Opening: what speaks for and what against, with equal weight, each with its evidence and its age.
// Never a recommendation. "Left to hatch" is a choice, and is signed like one.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { useNursery, useReading } from "../../shell/hooks.js";
import { counted } from "../../look/drawings/ink.js";
import { AGAINST, leftToHatch } from "../notes/eggs.js";
import { assessedWords, isSettled, useAssessed } from "./assessed.js";
import { Decide } from "./opening-decide.js";
import { Caution, Choose, ChooseAny, Sign, TakeBack } from "../parts/controls.js";
import { stripLooks, Strip } from "../case.js";
import { isOpen } from "../parts/open.js";
import { byLabel, shapeOf, useEggs, useItems, whyNot, zoneOf } from "../parts/reading.js";

/** @import { Nursery, ScreenProps } from "../../contracts.js" */

/** @param {ScreenProps} props */
export default function Opening({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const species = useItems(nursery, "/v1/species");
  const egg = eggs.items.find(({ id }) => id === `egg/${params.egg}`);
  if (params.egg && egg) return html`<${Case} key=${egg.id} nursery=${nursery} egg=${egg} shape=${shapeOf(species.items, egg.species)} /><${TakeBack} nursery=${nursery} name=${() => egg.label} />`;
  return html`<${Listed} nursery=${nursery} eggs=${eggs.items} />`;
}

/** @param {{nursery: Nursery, eggs: any[]}} props */
function Listed({ nursery, eggs }) {
  const { items, reading, trouble } = useItems(nursery, "/v1/openings");
  const late = eggs.filter((egg) => isOpen(egg) && (egg.band ?? 0) >= 6).toSorted(byLabel);
  return html`
    <div class="desk">
      <${Caution}>A case past its window and quiet is first looked at again and left: most late young come by themselves. The licensed veterinarian and the institution's animal-welfare process decide; local law and permits apply.<//>
      <section>
        <h2>Cases that meet the house's criteria now</h2>
        ${!reading ? html`<p>Not known: ${whyNot(trouble)}.</p>` : items.length === 0 ? html`<p>None.</p>` : html`<div class="label-grid">${items.map(({ egg, label, window }) => html`<a class="label-key" href=${`#/opening/${egg}`}><b>${label}</b> <span>${window?.standing ?? ""}</span></a>`)}</div>`}
      </section>
      <section>
        <h2>Cases in the last two bands</h2>
        ${late.length === 0 ? html`<p>None.</p>` : html`<div class="label-grid">${late.map(({ id, label, band }) => html`<a class="label-key" href=${`#/opening/${id}`}><b>${label}</b> <span>${band === 7 ? "yolk nearly gone" : "pattern"}</span></a>`)}</div>`}
      </section>
    </div>
  `;
}

/** @param {{nursery: Nursery, egg: any, shape?: string}} props */
function Case({ nursery, egg, shape }) {
  const path = `/v1/eggs/${egg.id.split("/")[1]}/opening`;
  const { reading, trouble } = useReading(nursery, path);
  const told = reading?.body?.item;
  return html`
    <div class="desk">
      <h2 class="case-label">${egg.label}</h2>
      <p class="sentence">${told?.window?.says ?? `window: not known${told ? "" : `; ${whyNot(trouble)}`}`}</p>
      <${Strip} looks=${stripLooks(egg.looks, zoneOf(nursery))} shape=${shape} label=${egg.label} />
      ${told?.sealed !== false && !egg.slits_open ? html`<p class="ask-again">The slits were not seen open. Nothing enters a sealed case except on the veterinarian's decision, recorded.</p>` : null}
      <div class="columns">
        <${Side} title="Criteria of the house" weighed=${told?.criteria} none="not known: no assessment" />
        <${Side} title="Reasons against" weighed=${told?.against} none="not known: no assessment" />
      </div>
      ${told ? html`<${Comparable} comparable=${told.comparable} /><section><h2>Who must agree</h2><p>${told.agreement.says}</p></section>` : null}
      ${(told?.cautions ?? [CAUTION]).map((/** @type {string} */ words) => html`<${Caution}>${words}<//>`)}
      <${Left} nursery=${nursery} egg=${egg} path=${path} reading=${reading} />
      <${Decide} nursery=${nursery} egg=${egg} path=${path} reading=${reading} />
      <a class="key-wide" href=${`#/hatched/${egg.id}`}>It was opened: note what was seen and done</a>
    </div>
  `;
}

const CAUTION = "The licensed veterinarian and the institution's animal-welfare process decide; local law and permits apply. Most late young come by themselves.";

/** Both sides in one form: neither is larger, neither has a colour. @param {{title: string, weighed: any[]|undefined, none: string}} props */
function Side({ title, weighed, none }) {
  return html`
    <section class="weighed">
      <h2>${title}</h2>
      ${!weighed ? html`<p>${none}</p>` : weighed.length === 0 ? html`<p>None is set.</p>` : html`<ul class="told">${weighed.map(({ what, holds, says, evidence = [] }) => html`<li class="told-note"><b>${what}: ${holds}</b><span>${says}</span>${evidence.length > 0 ? html`<span class="hint">${counted(evidence.length, "note")}, the newest ${counted(Math.min(...evidence.map((/** @type {any} */ one) => one.age_days)), "day")} old</span>` : null}</li>`)}</ul>`}
    </section>
  `;
}

/** @param {{comparable: any}} props */
function Comparable({ comparable }) {
  const rows = /** @type {const} */ ([["n", "cases"], ["hatched_unaided", "hatched unaided"], ["hatched_after_opening", "hatched after an opening"], ["lost", "lost in the case"], ["put_down", "put down by decision"], ["otherwise_ended", "ended otherwise"], ["still_in_case", "still in the case"]]);
  return html`
    <section>
      <h2>Comparable cases here</h2>
      <p>${comparable.which}</p>
      <div class="table-wrap"><table>
        <caption>At ${comparable.landmark_days} days since laying; opened within ${comparable.within_days} days</caption>
        <thead><tr><th scope="col"></th><th scope="col" class="number">left alone</th><th scope="col" class="number">opened</th></tr></thead>
        <tbody>${rows.map(([member, words]) => html`<tr><th scope="row">${words}</th><td class="number">${comparable.left_alone[member]}</td><td class="number">${comparable.opened[member]}</td></tr>`)}</tbody>
      </table></div>
      <p>${comparable.caveat}</p>
    </section>
  `;
}

/**
 * Nothing is chosen beforehand. What was assessed when the first reason was tapped stands and goes
 * into the note: an assessment that arrives later does not change what a tap means.
 * @param {{nursery: Nursery, egg: any, path: string, reading: import("../../contracts.js").Reading|null}} props
 */
function Left({ nursery, egg, path, reading }) {
  const { begun, begin, end } = useAssessed(nursery, path, reading);
  const told = begun?.told ?? reading?.body?.item;
  const known = (told?.against ?? []).filter((/** @type {any} */ one) => one.holds === "yes" && AGAINST.includes(one.what)).map((/** @type {any} */ one) => one.what);
  const [held, setHeld] = useState(/** @type {string[]} */ ([]));
  const [hours, setHours] = useState(48);
  const by = nursery.person?.person;
  const criteria = (begun?.told?.criteria ?? []).filter((/** @type {any} */ one) => one.holds === "yes").map((/** @type {any} */ one) => one.what);
  const choose = (/** @type {string[]} */ reasons) => (setHeld(reasons), reasons.length > 0 ? begin() : end());
  const notes = held.length > 0 && by && isSettled(begun) ? [leftToHatch({ egg: egg.id, reasons: AGAINST.filter((one) => held.includes(one)), by: [by], criteria, hours, assessment: begun?.kept, assessed: assessedWords(begun) })] : [];
  return html`
    <section>
      <h2>Left to hatch, as a choice</h2>
      ${known.length > 0 ? html`<p>So assessed: ${known.join(", ")}. What is named below is your own choice.</p>` : null}
      <${ChooseAny} legend="Why" options=${AGAINST} held=${held} onChange=${choose} />
      <${Choose} legend="Look again after" options=${[24, 48, 96, 168]} held=${hours} onChoose=${setHours} words=${(/** @type {number} */ one) => (one < 168 ? `${one} h` : "a week")} />
      ${begun?.why ? html`<p class="ask-again" role="status">The note carries no assessment: ${begun.why}.</p>` : null}
      <${Sign} nursery=${nursery} kind="main" notes=${notes} why=${held.length > 0 && by ? "Reading what the record says …" : "Say why it is left"} onSigned=${() => choose([])} />
    </section>
  `;
}
