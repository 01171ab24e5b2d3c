// Today: what is due and where, one big Start. Nothing here has to be read twice.

import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { counted } from "../look/drawings/ink.js";
import { usualBand } from "./notes/house.js";
import { REMARK_LATER } from "./notes/candling.js";
import { Fresh } from "./parts/controls.js";
import { clock, since } from "./parts/days.js";
import { labelOf, useEggs, useItems, useTanks, zoneOf } from "./parts/reading.js";

/** @import { ScreenProps } from "../contracts.js" */

/** @param {ScreenProps} props */
export default function Today({ nursery }) {
  useNursery(nursery);
  const due = useItems(nursery, "/v1/due?within_hours=12");
  const tanks = useTanks(nursery);
  const eggs = useEggs(nursery);
  const systems = useItems(nursery, "/v1/systems");
  const duty = useItems(nursery, "/v1/duty");
  const zone = zoneOf(nursery);
  const rounds = byTank(due.items.filter(({ what }) => what === "candle"), eggs.items);
  const again = due.items.filter(({ what }) => what === "look again");
  const hungry = due.items.filter(({ what }) => what === "not seen to eat");
  const other = due.items.filter(({ what }) => !["candle", "look again", "not seen to eat"].includes(what));
  const out = outOfBand(systems.items);
  const remarks = nursery.notes.filter(({ type, data, state }) => type === "egg.candled.v1" && state !== "refused" && String(data.remark ?? "").includes(REMARK_LATER));
  const hand = duty.items[0];
  const first = rounds[0];
  return html`
    <div class="hand today">
      ${first ? html`<a class="start" href=${`#/candling/${first.tank}`}><b>Start</b><span>${labelOf(tanks.items, first.tank)}, ${first.count} cases to look at</span></a>` : html`<a class="start" href="#/walk"><b>Start</b><span>the walk past the tanks</span></a>`}
      <${Block} title="Rounds" items=${rounds.map(({ tank, count, days }) => ({ href: `#/tray/${tank}`, name: labelOf(tanks.items, tank), words: `${count} cases${days > 0 ? `, the longest ${days} days over` : ", due today"}` }))} none="no round is due" />
      <${Block} title="Look again" items=${again.map((item) => ({ href: "#/recheck", name: item.label, words: item.why }))} none="nothing is held apart" />
      <${Block} title="Water" items=${out.map(({ system, words }) => ({ href: "#/water", name: system.label, words }))} none=${systems.reading ? "all as asked" : "not known yet"} />
      <${Block} title="Young not seen to eat" items=${hungry.map((item) => ({ href: "#/feeding", name: item.label || "young", words: item.why }))} none="none is waiting" />
      <${Block} title="Hand-over" items=${hand ? [{ href: "#/hand-over", name: counted(hand.matters.length, "matter"), words: since(hand.time, nursery.now(), zone) }] : []} none="none to read" />
      ${remarks.length > 0 ? html`<${Block} title="Remarks to write" items=${[{ href: "#/remarks", name: `${remarks.length} cases`, words: "marked in the round, for the desk" }]} none="" />` : null}
      ${other.length > 0 ? html`<${Block} title="Also due" items=${other.slice(0, 12).map((item) => ({ href: hrefOf(item), name: item.label || item.what, words: item.why }))} none="" />` : null}
      <nav class="all-screens" aria-label="All screens">
        ${MORE.map(([href, name]) => html`<a class="row-key" href=${href}>${name}</a>`)}
      </nav>
      <${Fresh} read=${due} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
  `;
}

const MORE = /** @type {const} */ ([
  ["#/trays", "Trays"], ["#/collect", "Collect"], ["#/walk", "Tank walk"], ["#/feeding", "Feeding"], ["#/water", "Water"], ["#/hatched", "Hatched"], ["#/young", "Young"],
  ["#/recheck", "Recheck"], ["#/dead", "Found dead"], ["#/happened", "Something happened"], ["#/hand-over", "Hand-over"],
  ["#/weeks", "Coming weeks"], ["#/sign", "For my signature"], ["#/figures", "Figures"], ["#/opening", "Opening"], ["#/as-known", "As known on"], ["#/proof", "Proof"],
]);

/** @param {{title: string, items: {href: string, name: string, words: string}[], none: string}} props */
function Block({ title, items, none }) {
  return html`
    <section class="block">
      <h2>${title}</h2>
      ${items.length === 0 ? html`<p class="hint">${none}</p>` : html`<ul class="list">${items.map(({ href, name, words }) => html`<li><a class="row-key" href=${href}><b>${name}</b> <span>${words}</span></a></li>`)}</ul>`}
    </section>
  `;
}

/** Due looks a tank, the longest over first. @param {any[]} items @param {any[]} eggs */
function byTank(items, eggs) {
  /** @type {Map<string, {tank: string, count: number, days: number}>} */ const found = new Map();
  const open = new Set(eggs.filter(({ fate }) => fate.state === "open").map(({ id }) => id));
  for (const { tank, overdue_days, subject } of items) {
    if (!tank || (eggs.length > 0 && !open.has(subject))) continue;
    const before = found.get(tank) ?? { tank, count: 0, days: 0 };
    found.set(tank, { tank, count: before.count + 1, days: Math.max(before.days, overdue_days) });
  }
  return [...found.values()].sort((a, b) => b.days - a.days || b.count - a.count);
}

/** Newest readings outside the usual bands; common practice, and the house may set others. @param {any[]} systems */
function outOfBand(systems) {
  return systems.flatMap((system) => {
    const reading = system.last_reading ?? {};
    const out = ["temperature_c", "salinity_psu", "ph"].flatMap((member) => {
      const [value, band] = [reading[member], usualBand(system.water, member)];
      return value !== undefined && band && (value < band.low || value > band.high) ? [`${member === "temperature_c" ? `${value} °C` : member === "ph" ? `pH ${value}` : `salinity ${value}`}, usual ${band.low} to ${band.high}`] : [];
    });
    return out.length > 0 ? [{ system, words: out.join("; ") }] : [];
  });
}

/** @param {any} item */
function hrefOf({ what, subject }) {
  if (what === "calibrate") return "#/water";
  if (subject.startsWith("egg/")) return `#/case/${subject}`;
  return subject.startsWith("animal/") ? `#/as-known/${subject}` : "#/weeks";
}
