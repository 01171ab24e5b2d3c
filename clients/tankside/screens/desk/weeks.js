// Coming weeks: what changed first; then when eggs may hatch, as windows and never as dates; how many
// eggs stand in each band; what was lost, with the number behind it; the water.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { useNursery, useReading } from "../../shell/hooks.js";
import { BANDS } from "../../look/drawings/bands.js";
import { drawCase, numbersOf } from "../../look/drawings/case.js";
import { counted } from "../../look/drawings/ink.js";
import { hatchRibbon, windowWords } from "../../look/drawings/hatch-ribbon.js";
import { Choose, Drawing, Fresh } from "../parts/controls.js";
import { clock, daysBetween, fullDay, instant, since } from "../parts/days.js";
import { lastOf, useAnimals, useEggs, useItems, whyNot, zoneOf } from "../parts/reading.js";
import { WaterFigure } from "../parts/water-figure.js";
import { useWidth } from "../parts/width.js";
import { animalsChangedSince, bandCounts, changedSince, lossesSince } from "./changes.js";

/** @import { Nursery, ScreenProps } from "../../contracts.js" */

const DAY_MS = 86_400_000;
const SINCE = /** @type {const} */ ([1, 3, 7, 28]);
/** Under which name it is kept when this was looked at. */
const LOOKED = "weeks";
/** So many stand on the glass; the others are a tap away. */
const CHANGES_SHOWN = 24;

/** @param {ScreenProps} props */
export default function Weeks({ nursery }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const systems = useItems(nursery, "/v1/systems");
  const [now] = useState(() => nursery.now());
  const week = useReading(nursery, `/v1/eggs?limit=1000&as_of=${instant(startOf(now - 7 * DAY_MS))}`).reading?.body?.items;
  const zone = zoneOf(nursery);
  return html`
    <div class="desk">
      <${Changed} nursery=${nursery} eggs=${eggs} now=${now} zone=${zone} />
      <${Windows} nursery=${nursery} />
      <${Bands} now=${bandCounts(eggs.items)} week=${week ? bandCounts(week) : null} />
      <${Losses} losses=${lossesSince(eggs.items, now - 28 * DAY_MS)} zone=${zone} from=${now - 28 * DAY_MS} />
      <section><h2>Water</h2>${systems.items.map((system) => html`<div key=${system.id}><h3>${system.label}</h3><${WaterFigure} nursery=${nursery} system=${system} /></div>`)}</section>
      <${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
  `;
}

/**
 * What changed since this person last said to have looked: by what the log knew then, so that what
 * was noted late is among it too. Else since a day.
 * @param {{nursery: Nursery, eggs: import("../parts/reading.js").Read, now: number, zone: string}} props
 */
function Changed({ nursery, eggs, now, zone }) {
  const looked = nursery.looked(LOOKED);
  const [days, setDays] = useState(0);
  const animals = useAnimals(nursery);
  const since_ = days === 0 && looked ? `known_at=${looked.known_at}` : `as_of=${instant(startOf(now - Math.max(1, days) * DAY_MS))}`;
  const then = useReading(nursery, `/v1/eggs?limit=1000&${since_}`);
  const thenAnimals = useReading(nursery, `/v1/animals?limit=1000&${since_}`);
  const known = eggs.reading?.body?.known_at;
  const changes = then.reading ? [...changedSince(then.reading.body.items, eggs.items), ...(thenAnimals.reading ? animalsChangedSince(thenAnimals.reading.body.items, animals.items) : [])] : [];
  const options = looked ? [0, ...SINCE] : SINCE;
  const words = (/** @type {number} */ one) => (one === 0 && looked ? `I last looked, ${since(looked.at_ms, nursery.now(), zone)}` : one === 1 ? "yesterday" : `${one} days ago`);
  return html`
    <section>
      <h2>What changed</h2>
      <${Choose} legend="Since" options=${options} held=${looked ? days : Math.max(1, days)} onChoose=${setDays} words=${words} />
      ${!then.reading ? html`<p class="hint">${then.trouble ? `Not known here, how it stood then: ${whyNot(then.trouble)}.` : "Reading …"}</p>` : changes.length === 0 ? html`<p>Nothing about any case or animal.</p>` : html`
        <ul class="told">${changes.slice(0, CHANGES_SHOWN).map(({ what, says }) => html`<li class="told-note"><a class="quiet-link" href=${`#/as-known/${what.id}`}><b>${what.label || lastOf(what.id)}</b>\u00a0 ${says}</a></li>`)}</ul>
        ${changes.length > CHANGES_SHOWN ? html`<details><summary>and ${changes.length - CHANGES_SHOWN} more</summary><ul class="plain-list">${changes.slice(CHANGES_SHOWN).map(({ what, says }) => html`<li><a class="quiet-link" href=${`#/as-known/${what.id}`}>${what.label || lastOf(what.id)}</a> ${says}</li>`)}</ul></details>` : null}`}
      ${known && looked?.known_at !== known ? html`<button type="button" class="key-wide" onClick=${() => (nursery.lookedNow(LOOKED, known), setDays(0))}>I have looked at these; from now on, what comes later</button>` : null}
    </section>
  `;
}

/** A moment that stays the same for an hour, so that one question is asked once. @param {number} at_ms */
const startOf = (at_ms) => Math.floor(at_ms / 3_600_000) * 3_600_000;

/** @param {{nursery: Nursery}} props */
function Windows({ nursery }) {
  const { items, reading, trouble } = useItems(nursery, "/v1/forecast");
  const width = useWidth(960, 32);
  const zone = zoneOf(nursery);
  const today = (/** @type {string} */ date) => daysBetween(`${date}T12:00:00Z`, nursery.now(), zone) * -1;
  if (!reading) return html`<section><h2>Hatch windows</h2><p>Not known: ${whyNot(trouble)}.</p></section>`;
  const rows = items.map((one) => rowOf(one, today)).sort((a, b) => (a.window?.p50 ?? 9e9) - (b.window?.p50 ?? 9e9));
  return html`
    <section>
      <h2>Hatch windows</h2>
      <p class="hint">A leaf reaches from the day by which 5 % of such eggs would have hatched to the day by which 95 % would; its wide part is how unsure that is.</p>
      ${rows.length === 0 ? html`<p>No case is incubating.</p>` : html`<figure class="figure"><${Drawing} svg=${hatchRibbon(rows, { title: "When each egg may hatch", width })} /></figure>`}
      <details><summary>The same in words</summary><ul class="plain-list">${rows.map(({ label, window, grade, reason }) => html`<li><b>${label}</b>: ${window ? `${windowWords(window)}; ${grade}` : `not known: ${reason}`}</li>`)}</ul></details>
    </section>
  `;
}

/** @param {any} forecast @param {(date: string) => number} today @returns {import("../../look/drawings/hatch-ribbon.js").RibbonRow} */
function rowOf({ label, window, rate, no_forecast }, today) {
  if (!window || !rate) return { label, reason: no_forecast?.says ?? no_forecast?.reason ?? "no forecast was made" };
  const [p05, p25, p50, p75, p95] = [window.p05, window.p25, window.p50, window.p75, window.p95].map(today);
  return { label, grade: rate.grade, window: /** @type {any} */ ({ p05, p25, p50, p75, p95 }) };
}

/** @param {{now: number[], week: number[]|null}} props */
function Bands({ now, week }) {
  return html`
    <section>
      <h2>Eggs in each band</h2>
      <div class="table-wrap"><table>
        <thead><tr><th scope="col"><span class="unseen">Drawing</span></th><th scope="col">Band</th><th scope="col" class="number">this week</th><th scope="col" class="number">a week ago</th></tr></thead>
        <tbody>${BANDS.map(({ band, label }) => html`<tr><td><${Drawing} kind="small" svg=${drawCase(numbersOf({ band }), { silent: true })} /></td><th scope="row">${label}</th><td class="number">${now[band] ?? 0}</td><td class="number">${week ? (week[band] ?? 0) : "not known"}</td></tr>`)}
        <tr><td></td><th scope="row">not seen in yet</th><td class="number">${now[8] ?? 0}</td><td class="number">${week ? (week[8] ?? 0) : "not known"}</td></tr></tbody>
      </table></div>
    </section>
  `;
}

/** @param {{losses: {n: number, lost: {cause: string, labels: string[]}[]}, zone: string, from: number}} props */
function Losses({ losses: { n, lost }, zone, from }) {
  const all = lost.reduce((sum, { labels }) => sum + labels.length, 0);
  return html`
    <section>
      <h2>Lost since ${fullDay(from, zone)}</h2>
      <p><b>${all} of ${counted(n, "case")}</b> that were in the nursery at any time since then. Apparent causes, as keepers saw them:</p>
      ${all === 0 ? null : html`<ul class="plain-list">${lost.map(({ cause, labels }) => html`<li><b>${labels.length}</b> ${cause}: ${labels.join(", ")}</li>`)}</ul>`}
    </section>
  `;
}
