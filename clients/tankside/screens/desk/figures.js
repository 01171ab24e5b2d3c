// Figures: each with its denominator, its method, and the notes behind it. A rate without its
// denominator is worthless.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { useNursery, useReading } from "../../shell/hooks.js";
import { incidenceCurves, survivalCurve } from "../../look/drawings/curves.js";
import { counted, percent, plain } from "../../look/drawings/ink.js";
import { Choose, Drawing } from "../parts/controls.js";
import { useItems, whyNot } from "../parts/reading.js";
import { useWidth } from "../parts/width.js";

/** @import { Nursery, ScreenProps } from "../../contracts.js" */

const ABOUT = /** @type {Record<string, string>} */ ({
  collected: "of all cases found",
  "with yolk": "of cases with a yolk at the first look that could see in",
  "embryo seen": "of cases in which a living embryo was seen at least once",
  "taken into the nursery": "of cases put in an incubation place",
});

/** What stands beside a rate, where the service counts it. */
const ASIDE = /** @type {const} */ ([["could_not_be_judged", "could not be judged"], ["end_not_known", "end not known"], ["put_down", "put down by decision"], ["missing", "missing"]]);

/** @param {ScreenProps} props */
export default function Figures({ nursery }) {
  useNursery(nursery);
  const species = useItems(nursery, "/v1/species");
  const [kind, setKind] = useState("");
  const [explain, setExplain] = useState(false);
  const query = [kind ? `species=${encodeURIComponent(kind.split("/")[1] ?? kind)}` : "", explain ? "explain=true" : ""].filter((part) => part !== "").join("&");
  const ask = (/** @type {string} */ figure) => `/v1/figures/${figure}${query ? `?${query}` : ""}`;
  return html`
    <div class="desk">
      <${Choose} legend="Of which species" options=${["", ...species.items.map(({ id }) => id)]} held=${kind} onChoose=${setKind} words=${(/** @type {string} */ id) => (id === "" ? "all, apart from each other they say more" : species.items.find((one) => one.id === id)?.common_name)} />
      <${Choose} legend="The cases behind each figure" options=${[false, true]} held=${explain} onChoose=${setExplain} words=${(/** @type {boolean} */ yes) => (yes ? "name them" : "leave out")} />
      <${Rates} nursery=${nursery} path=${ask("hatch-rates")} />
      <${Fates} nursery=${nursery} path=${ask("egg-fates")} />
      <${Timing} nursery=${nursery} path=${ask("loss-timing")} />
      <${Rearing} nursery=${nursery} path=${ask("rearing")} />
      <${Assisted} nursery=${nursery} path=${ask("assisted")} />
    </div>
  `;
}

/** @param {{title: string, trouble: string|null, children?: any}} props */
const NotKnown = ({ title, trouble }) => html`<section><h2>${title}</h2><p>Not known: ${whyNot(trouble)}.</p></section>`;

/** @param {{cases: any[]|null|undefined}} props */
function Behind({ cases }) {
  if (!cases) return null;
  return html`<details><summary>${counted(cases.length, "case")} behind it</summary><ul class="plain-list">${cases.slice(0, 300).map(({ subject, label, counted_as, events }) => html`<li><a class="quiet-link" href=${`#/as-known/${subject}`}>${label}</a> ${counted_as} · ${counted(events.length, "note")}</li>`)}</ul></details>`;
}

/** @param {{nursery: Nursery, path: string}} props */
function Rates({ nursery, path }) {
  const { reading, trouble } = useReading(nursery, path);
  const body = reading?.body;
  if (!body?.collected) return html`<${NotKnown} title="Hatch rates" trouble=${trouble} />`;
  return html`
    <section>
      <h2>Hatch rates, four denominators</h2>
      <div class="columns">${body.collected.map((/** @type {any} */ rate) => html`
        <article class="weighed">
          <h3>${rate.name}</h3>
          <p class="big-number"><b>${rate.x}</b><span>of ${rate.n} hatched, ${ABOUT[rate.name] ?? ""}${rate.open > 0 ? `; ${rate.open} still open` : ""}</span></p>
          <p>${rateWords(rate)}</p>
          <p class="hint">${rate.unaided} unaided, ${rate.after_opening} after opening${ASIDE.filter(([member]) => rate[member] !== undefined).map(([member, words]) => ` · ${words} ${rate[member]}`).join("")}</p>
          <${Behind} cases=${rate.cases} />
        </article>`)}</div>
      <p class="hint">${body.method} Eggs ${body.behind.eggs}, clutches ${body.behind.clutches}, dams known ${body.behind.dams_known}.</p>
    </section>
  `;
}

/** @param {any} rate */
function rateWords({ estimate, wilson_95, bounds, absent, x, n, open }) {
  const limits = limitsOf(wilson_95);
  if (typeof estimate === "number" && open === 0) return `${percent(estimate)}${limits ? `, 95 % interval ${percent(limits[0])} to ${percent(limits[1])}` : ""}`;
  const between = limitsOf(bounds) ?? (n > 0 ? [x / n, (x + open) / n] : null);
  return between ? `between ${percent(between[0])} and ${percent(between[1])} once all have ended${absent ? `. ${absent.says}` : ""}` : (absent?.says ?? "no case");
}

/** Lower and upper limit, as the service writes them. @param {any} limits @returns {[number, number]|null} */
const limitsOf = (limits) => (Array.isArray(limits) && limits.length === 2 ? [limits[0], limits[1]] : null);

/** @param {{nursery: Nursery, path: string}} props */
function Fates({ nursery, path }) {
  const { reading, trouble } = useReading(nursery, path);
  const width = useWidth(760, 210);
  const body = reading?.body;
  if (!body?.ages) return html`<${NotKnown} title="What becomes of eggs over time" trouble=${trouble} />`;
  const curve = (/** @type {string} */ name, /** @type {string} */ member) => ({ name, steps: body.ages.map((/** @type {any} */ age) => ({ at: age.age_days, value: age[member].estimate })) });
  const to = body.ages.at(-1)?.age_days ?? 1;
  const svg = incidenceCurves([curve("hatched", "hatched"), curve("died", "died"), curve("left", "removed")], { title: "What becomes of eggs, by age", unit: "days since laying", to: Math.max(1, to), width });
  return html`
    <section>
      <h2>What becomes of eggs over time</h2>
      ${body.absent ? html`<p>Not estimable: ${body.absent.says}</p>` : html`<figure class="figure"><${Drawing} svg=${svg} /></figure>`}
      <p><b>${body.n} cases at risk</b>: hatched ${body.hatched} (of these ${body.hatched_after_opening} after opening), died ${body.died}, left ${body.removed}, lost from sight ${body.lost}, open ${body.open}.</p>
      <p class="hint">${body.method}. ${body.numerator}, of ${body.denominator}. ${body.notes.join(" ")}</p>
      <${Behind} cases=${body.cases} />
    </section>
  `;
}

/** @param {{nursery: Nursery, path: string}} props */
function Timing({ nursery, path }) {
  const { reading, trouble } = useReading(nursery, path);
  const body = reading?.body;
  if (!body?.stretches) return html`<${NotKnown} title="When did they die?" trouble=${trouble} />`;
  return html`
    <section>
      <h2>When did they die?</h2>
      <p>Known only between two looks: a stretch, never a day. ${body.deaths} of ${counted(body.n, "case")} watched from the start.</p>
      ${body.absent ? html`<p>Not estimable: ${body.absent.says}</p>` : html`<div class="table-wrap"><table><thead><tr><th scope="col">after day</th><th scope="col">by day</th><th scope="col" class="number">part of all cases</th></tr></thead><tbody>${body.stretches.map((/** @type {any} */ one) => html`<tr><td>${plain(one.after_days)}</td><td>${plain(one.by_days)}</td><td class="number">${percent(one.part)}</td></tr>`)}</tbody></table></div>`}
      <p class="hint">${body.method}. Looks on schedule ${body.looks_scheduled}, because of a suspicion ${body.looks_prompted}.</p>
      <${Behind} cases=${body.cases} />
    </section>
  `;
}

/** Words for what stands beside a curve, in the service's own order. @param {Record<string, any>} beside */
const besideWords = (beside) => Object.entries(beside).filter(([name]) => name !== "unseen_days_max").map(([name, count]) => (name === "unseen" ? `not seen for more than ${beside.unseen_days_max} days ${count}` : `${name.replaceAll("_", " ")} ${count}`)).join(", ");

/** @param {{nursery: Nursery, path: string}} props */
function Rearing({ nursery, path }) {
  const { reading, trouble } = useReading(nursery, path);
  const width = useWidth(760, 40);
  const body = reading?.body;
  if (!body?.pieces) return html`<${NotKnown} title="Survival of the young" trouble=${trouble} />`;
  const pieces = body.pieces.map((/** @type {any} */ piece) => ({ from: piece.from_days, to: piece.to_days, survival: piece.survival, lower: limitsOf(piece.loglog_95)?.[0], upper: limitsOf(piece.loglog_95)?.[1] }));
  const svg = survivalCurve(pieces, { title: "Survival of the young from hatch", width, watched: body.at_risk.map((/** @type {any} */ one) => ({ at: one.days, count: one.count })), censored: body.censored.map((/** @type {any} */ one) => one.days) });
  return html`
    <section>
      <h2>Survival of the young</h2>
      <p><b>${body.deaths} of ${counted(body.n, "young", "young")}</b> died while they were watched.</p>
      ${body.absent ? html`<p>Not estimable: ${body.absent.says}</p>` : html`<figure class="figure"><${Drawing} svg=${svg} /></figure>`}
      <ul class="plain-list">${body.points.map((/** @type {any} */ point) => html`<li>Day ${point.age_days}: ${typeof point.survival === "number" ? `${percent(point.survival)} alive${limitsWords(point.loglog_95)}` : `not known: ${point.absent?.says ?? ""}`} · ${point.at_risk} watched then</li>`)}</ul>
      <p class="hint">${body.method}. Beside the curve: ${besideWords(body.beside)}; entered late ${body.entered_late}.</p>
      <${Behind} cases=${body.cases} />
    </section>
  `;
}

/** @param {any} limits */
function limitsWords(limits) {
  const known = limitsOf(limits);
  return known ? `, 95 % interval ${percent(known[0])} to ${percent(known[1])}` : "";
}

const CAVEAT = "Never read as the effect of opening: opened cases are overdue by selection, and had to live until then. These lines describe; they do not compare.";
/** From which day a case counts, where a comparison is asked for. */
const FROM_DAYS = /** @type {const} */ ([0, 90, 120, 150, 180]);
const WITHIN_DAYS = 14;

/** @param {{nursery: Nursery, path: string}} props */
function Assisted({ nursery, path }) {
  const [from, setFrom] = useState(0);
  const { reading, trouble } = useReading(nursery, from === 0 ? path : `${path}${path.includes("?") ? "&" : "?"}eligible_from_days=${from}&within_days=${WITHIN_DAYS}`);
  const body = reading?.body;
  if (!body) return html`<section><h2>Opened and unaided</h2><p class="ask-again">${CAVEAT}</p><p>Not known: ${whyNot(trouble)}.</p></section>`;
  const [least, middle, most] = body.age_days ?? [];
  const several = (/** @type {Record<string, number>} */ counts, /** @type {(name: string) => string} */ words = String) => Object.entries(counts).map(([name, count]) => `${count} ${words(name)}`).join(", ") || "none";
  return html`
    <section>
      <h2>Opened and unaided</h2>
      <p class="ask-again">${body.caveat}</p>
      <p class="big-number"><b>${body.opened}</b><span>opened${body.age_days ? `, at ${least} to ${most} days since laying, the middle one at ${middle}` : ""}; ${body.left_to_hatch} left to hatch, as a choice</span></p>
      ${body.opened === 0 ? null : html`<dl class="pair">
        <dt>how far</dt><dd>${several(body.extents)}</dd>
        <dt>last band seen</dt><dd>${several(body.bands, (band) => `in band ${band}`)}</dd>
        <dt>could not wait</dt><dd>${several(body.urgent)}</dd>
        <dt>outcome at the opening</dt><dd>${several(body.outcomes)}</dd>
        ${body.young.map((/** @type {any} */ young) => html`<dt>young, day ${young.days}</dt><dd>${young.lived} of ${young.judged} lived${limitsWords(young.wilson_95)}${young.not_known > 0 ? `; ${young.not_known} not known` : ""}</dd>`)}
      </dl>`}
      <${Choose} legend=${`Beside those left, only if asked for: cases alive from day, within ${WITHIN_DAYS} days`} options=${FROM_DAYS} held=${from} onChoose=${setFrom} words=${(/** @type {number} */ day) => (day === 0 ? "not asked for" : `day ${day}`)} />
      ${body.comparison ? html`<${Comparison} told=${body.comparison} />` : null}
    </section>
  `;
}

const WAYS = /** @type {const} */ ([["time_dependent", "Opened from the day of opening on"], ["landmark", "Opened by the landmark, from there on"]]);

/** @param {{told: any}} props */
function Comparison({ told }) {
  return html`
    <p>${told.eligible} cases were alive and closed on day ${told.from_days}. An event: ${told.event}.</p>
    ${WAYS.map(([way, words]) => {
      const { opened, not_opened, p, absent } = told[way];
      return html`<div class="table-wrap"><table><caption>${words}</caption><thead><tr><th scope="col"></th><th scope="col" class="number">cases</th><th scope="col" class="number">events</th><th scope="col" class="number">expected</th><th scope="col" class="number">days watched</th></tr></thead>
        <tbody>${[["opened", opened], ["not opened", not_opened]].map(([name, one]) => html`<tr><th scope="row">${name}</th><td class="number">${one.n}</td><td class="number">${one.events}</td><td class="number">${plain(one.expected)}</td><td class="number">${plain(one.days, 0)}</td></tr>`)}</tbody></table></div>
        <p>${absent ? `${absent.says}.` : `Log-rank: p ${plain(p, 3)}. It says how likely such counts are without any difference, and nothing of why.`}</p>`;
    })}
  `;
}
