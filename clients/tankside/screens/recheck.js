// Recheck: cases held apart, when each is to be looked at again, and the end of those that are lost.
// No movement is not death: embryos freeze in weak electric fields (Kempster 2013).

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery, useReading } from "../shell/hooks.js";
import { drawCase, numbersOf } from "../look/drawings/case.js";
import { counted } from "../look/drawings/ink.js";
import { HELD_REASONS, LOSS_CAUSES, heldApart, lossNeeds, lost } from "./notes/candling.js";
import { Caution, Choose, Drawing, Fresh, Sign, TakeBack } from "./parts/controls.js";
import { clock, moment, ms, since } from "./parts/days.js";
import { isOpen } from "./parts/open.js";
import { Photo } from "./parts/photo.js";
import { byLabel, inUse, isKnown, labelOf, shapeOf, useEggs, useItems, useTanks, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

const HOUR_MS = 3_600_000;

/** @param {ScreenProps} props */
export default function Recheck({ nursery }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const species = useItems(nursery, "/v1/species");
  const house = useReading(nursery, "/v1/collection");
  const policy = house.reading?.body?.policy;
  const [adding, setAdding] = useState(false);
  const zone = zoneOf(nursery);
  // The house's rule says how often one looks before a loss; until it is known nothing is offered.
  if (!isKnown({ ...house, items: [] })) return html`<${Fresh} read=${{ ...house, items: [] }} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  const held = eggs.items.filter((egg) => isOpen(egg) && egg.held_apart).toSorted((a, b) => dueAt(a, policy) - dueAt(b, policy));
  return html`
    <div class="hand">
      ${policy ? null : html`<p class="ask-again" role="status">The house's rules are not known on this device: two looks and 48 hours are taken for them.</p>`}
      <${Caution}>A case is not lost because nothing moves. It is looked at again after the house's interval, by two people where there are two. Keep it under water and its way up.<//>
      ${held.length === 0 && eggs.reading ? html`<p>Nothing is held apart.</p>` : null}
      ${held.map((egg) => html`<${Held} key=${egg.id} nursery=${nursery} egg=${egg} policy=${policy} shape=${shapeOf(species.items, egg.species)} tankLabel=${labelOf(tanks.items, egg.place?.tank)} />`)}
      <button type="button" class="key-wide" aria-expanded=${adding} onClick=${() => setAdding(!adding)}>Hold another case apart</button>
      ${adding ? html`<${HoldApart} nursery=${nursery} eggs=${eggs.items.filter((egg) => isOpen(egg) && !egg.held_apart && egg.taken_in)} tanks=${inUse(tanks.items)} onSigned=${() => setAdding(false)} />` : null}
      <${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => labelOf(eggs.items, subject)} />
  `;
}

/** When it is to be looked at again. @param {any} egg @param {any} policy */
function dueAt({ held_apart }, policy) {
  const from = held_apart.last_look ?? held_apart.since;
  return ms(from.time) + (held_apart.look_again_after_hours ?? policy?.look_again_after_hours ?? 48) * HOUR_MS;
}

/** @param {{nursery: Nursery, egg: any, policy: any, shape?: string, tankLabel: string}} props */
function Held({ nursery, egg, policy, shape, tankLabel }) {
  const [ending, setEnding] = useState(false);
  const zone = zoneOf(nursery);
  const due = dueAt(egg, policy);
  const now = nursery.now();
  const last = egg.looks.at(-1);
  return html`
    <article class="card">
      <header class="card-head">
        <h2>${egg.label}</h2>
        ${last ? html`<${Drawing} kind="small" svg=${drawCase(numbersOf(last, shape), { title: "Last look" })} />` : null}
      </header>
      <p>${tankLabel} · ${egg.held_apart.reason} · held apart ${since(egg.held_apart.since.time, now, zone)} · looked at ${counted(egg.held_apart.looks_since, "time")} since</p>
      <p><b>${due <= now ? "Look again now" : "Look again"}</b>${due <= now ? `, due ${since(due, now, zone)}` : ` from ${moment(due, zone)}`}</p>
      <a class="go" href=${`#/candling/${egg.id}`}>Look again at ${egg.label}</a>
      <button type="button" class="key-wide" aria-expanded=${ending} onClick=${() => setEnding(!ending)}>It is lost</button>
      ${ending ? html`<${Loss} nursery=${nursery} egg=${egg} policy=${policy} />` : null}
    </article>
  `;
}

/** @param {{nursery: Nursery, egg: any, policy: any}} props */
export function Loss({ nursery, egg, policy }) {
  const [cause, setCause] = useState("not determined");
  const [plain, setPlain] = useState(false);
  const [photo, setPhoto] = useState(/** @type {import("../contracts.js").KeptPhoto|null} */ (null));
  const looksMin = policy?.looks_before_loss_min ?? 2;
  const looks = egg.held_apart ? egg.held_apart.looks_since + 1 : 1;
  const needs = lossNeeds({ looks, looksMin, plainlyDead: plain, photo });
  const band = egg.looks.findLast((/** @type {any} */ look) => look.band !== undefined)?.band;
  return html`
    <section>
      <${Choose} legend="Apparent cause, as a keeper can see it" options=${LOSS_CAUSES} held=${cause} onChoose=${setCause} />
      <${Choose} legend="Is it plainly decomposed, empty or crushed?" options=${[false, true]} held=${plain} onChoose=${setPlain} words=${(/** @type {boolean} */ yes) => (yes ? "yes, plainly" : "no")} />
      <${Photo} nursery=${nursery} photo=${photo} onKept=${setPhoto} />
      <${Sign} nursery=${nursery} notes=${needs ? [] : [lost({ egg: egg.id, cause, band, plainlyDead: plain, photo })]} why=${needs} onSigned=${() => nursery.tone("loss")} />
      <${Caution}>The licensed veterinarian and the institution's process decide what is done; local law on carcasses applies.<//>
    </section>
  `;
}

/** @param {{nursery: Nursery, eggs: any[], tanks: any[], onSigned: () => void}} props */
function HoldApart({ nursery, eggs, tanks, onSigned }) {
  const [egg, setEgg] = useState("");
  const [reason, setReason] = useState("");
  const [tank, setTank] = useState("");
  const held = tanks.find(({ id }) => id === tank);
  const notes = egg && reason ? [heldApart({ egg, reason, tank: tank || undefined, tankLabel: held?.label })] : [];
  return html`
    <section>
      <${Choose} legend="Which case" options=${eggs.toSorted(byLabel).map(({ id }) => id)} held=${egg} onChoose=${setEgg} words=${(/** @type {string} */ id) => labelOf(eggs, id)} />
      <${Choose} legend="Why" options=${HELD_REASONS} held=${reason} onChoose=${setReason} />
      <${Choose} legend="Where it is held" options=${["", ...tanks.filter(({ purpose }) => purpose !== "adults" && purpose !== "display").map(({ id }) => id)]} held=${tank} onChoose=${setTank} words=${(/** @type {string} */ id) => (id === "" ? "where it is" : labelOf(tanks, id))} />
      <${Sign} nursery=${nursery} notes=${notes} why="Choose the case and why" onSigned=${onSigned} />
    </section>
  `;
}
