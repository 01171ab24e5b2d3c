// Water: by system; the probe named, big keys, the last value beside, unit and basis fixed by the
// probe. A value far off is asked about again; nothing is refused.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { PH_SCALES, QUANTITIES, askAgain, usualBand, waterMeasured } from "./notes/house.js";
import { Caution, Choose, Fresh, Keys, Sign, TakeBack, numberOf } from "./parts/controls.js";
import { clock, since } from "./parts/days.js";
import { newestOf } from "./parts/laid-over.js";
import { byLabel, isKnown, labelOf, useItems, useTanks, zoneOf } from "./parts/reading.js";
import { WaterFigure } from "./parts/water-figure.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */
/** @import { Quantity } from "./notes/house.js" */

/** @param {ScreenProps} props */
export default function Water({ nursery }) {
  useNursery(nursery);
  const systems = useItems(nursery, "/v1/systems");
  const tanks = useTanks(nursery);
  const instruments = useItems(nursery, "/v1/instruments");
  const [open, setOpen] = useState("");
  const zone = zoneOf(nursery);
  return html`
    <div class="hand">
      ${!isKnown(systems, instruments) ? null : systems.items.toSorted(byLabel).map((system) => html`<${System} key=${system.id} nursery=${nursery} system=${system} tanks=${tanks.items} instruments=${instruments.items} open=${open === system.id} onOpen=${() => setOpen(open === system.id ? "" : system.id)} />`)}
      ${systems.items.length === 0 && systems.reading ? html`<p>No water system is set up.</p>` : null}
      <${Caution}>Keep hands and electricity apart at wet circuits.<//>
      <${Fresh} read=${systems} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => labelOf(systems.items, subject)} />
  `;
}

/** @param {{nursery: Nursery, system: any, tanks: any[], instruments: any[], open: boolean, onOpen: () => void}} props */
function System({ nursery, system, tanks, instruments, open, onOpen }) {
  const zone = zoneOf(nursery);
  const last = lastReading(nursery, system);
  const own = instruments.filter((one) => !one.retired && (one.system === system.id || (one.tank && system.tanks.includes(one.tank)) || (!one.system && !one.tank)));
  return html`
    <article class="card">
      <header class="card-head"><h2>${system.label}</h2><span class="hint">${system.water} · ${system.tanks.length} tanks</span></header>
      ${last ? html`<p class="last-values">${QUANTITIES.filter(({ member }) => last[member] !== undefined).map((one) => html`<span class="value"><b>${last[one.member]}</b> ${one.name} ${one.unit}</span>`)}<span class="hint">${since(last.time, nursery.now(), zone)}, ${last.instrument}</span>${last.hollow ? html`<span class="hint">past its calibration</span>` : null}</p>` : html`<p class="hint">No reading yet.</p>`}
      ${(system.open_faults ?? []).map((/** @type {any} */ fault) => html`<p class="ask-again">${fault.equipment} failed ${since(fault.time, nursery.now(), zone)} and is not said to work again.</p>`)}
      <button type="button" class="key-wide" aria-expanded=${open} onClick=${onOpen}>Read a probe</button>
      ${open ? html`<${Probe} nursery=${nursery} system=${system} instruments=${own} tanks=${tanks} last=${last} /><${WaterFigure} nursery=${nursery} system=${system} />` : null}
    </article>
  `;
}

/** The newest reading, this device's own included; members of different notes stand side by side. @param {Nursery} nursery @param {any} system */
function lastReading(nursery, system) {
  const here = newestOf(nursery.notes, "water.measured.v1", system.id);
  return here ? { ...system.last_reading, ...here.data, time: here.time } : system.last_reading;
}

/** @param {{nursery: Nursery, system: any, instruments: any[], tanks: any[], last: any}} props */
function Probe({ nursery, system, instruments, last }) {
  const names = [...new Set([...(last ? [last.instrument] : []), ...instruments.map(({ label }) => label)])];
  const [named, setProbe] = useState(names[0] ?? "");
  const probe = names.includes(named) ? named : (names[0] ?? "");
  const measures = instruments.find(({ label }) => label === probe)?.measures;
  const quantities = QUANTITIES.filter(({ quantity }) => !measures || measures.includes(quantity));
  const [member, setMember] = useState("temperature_c");
  const quantity = quantities.find((one) => one.member === member) ?? quantities[0];
  const [text, setText] = useState("");
  const [scale, setScale] = useState(last?.ph_scale ?? "unknown");
  const value = numberOf(text);
  if (names.length === 0) return html`<p>No probe is set up for this system; a curator or keeper installs one.</p>`;
  if (!quantity) return html`<p>${probe} measures nothing that a reading of water can hold.</p>`;
  return html`
    <section>
      <${Choose} legend="Probe" options=${names} held=${probe} onChoose=${setProbe} />
      <${Choose} legend="What it reads" options=${quantities} held=${quantity} onChoose=${(/** @type {Quantity} */ one) => (setMember(one.member), setText(""))} words=${(/** @type {Quantity} */ one) => `${one.name}${one.unit ? `, ${one.unit}` : ""}`} />
      ${quantity.member === "ph" && last?.ph_scale === undefined ? html`<${Choose} legend="The probe's pH scale" options=${PH_SCALES} held=${scale} onChoose=${setScale} words=${(/** @type {string} */ one) => (one === "unknown" ? "not known" : one)} />` : null}
      <p class="last-value">Last value: <b>${last?.[quantity.member] ?? "none"}</b> ${last?.[quantity.member] === undefined ? "" : quantity.unit}</p>
      <${Keys} label=${quantity.name} unit=${quantity.unit} text=${text} onText=${setText} negative=${quantity.least < 0} />
      <${Signing} nursery=${nursery} system=${system} probe=${probe} quantity=${quantity} value=${value} scale=${last?.ph_scale ?? scale} last=${last?.[quantity.member]} onSigned=${() => setText("")} />
    </section>
  `;
}

/** @param {{nursery: Nursery, system: any, probe: string, quantity: Quantity, value?: number, scale: string, last?: number, onSigned: () => void}} props */
function Signing({ nursery, system, probe, quantity, value, scale, last, onSigned }) {
  if (value === undefined) return html`<${Sign} nursery=${nursery} notes=${[]} why="Read the probe" />`;
  if (value < quantity.least || value > quantity.most) return html`<p class="ask-again" role="alert">${value} cannot be ${quantity.name.toLowerCase()} in ${quantity.unit || "its unit"}: a note holds ${quantity.least} to ${quantity.most}. Is the unit another one?</p>`;
  const asked = askAgain(quantity, value, { last, band: usualBand(system.water, quantity.member) });
  const note = waterMeasured({ subject: system.id, label: system.label, instrument: probe, quantity, value, phScale: scale });
  return html`
    ${asked ? html`<p class="ask-again" role="status">${asked} Read it once more; it can be signed all the same.</p>` : null}
    <${Sign} nursery=${nursery} kind="main" notes=${[note]} onSigned=${() => (nursery.tone("done"), onSigned())} />
  `;
}
