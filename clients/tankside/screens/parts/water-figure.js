// The last week of one system's water, from its history, over the usual band of its kind of water.

import { html } from "../../html.js";
import { useReading } from "../../shell/hooks.js";
import { waterLine } from "../../look/drawings/water-line.js";
import { QUANTITIES, usualBand } from "../notes/house.js";
import { Drawing } from "./controls.js";
import { ms, weekday } from "./days.js";
import { zoneOf } from "./reading.js";
import { useWidth } from "./width.js";

/** @import { Nursery } from "../../contracts.js" */

/** Our own choice: longer without a reading is shown as a gap. */
const GAP_HOURS = 36;
const WEEKS_MS = 14 * 86_400_000;

/** Readings of one member, in order of time. @param {any[]} notes @param {string} member @param {number} from_ms */
export function pointsOf(notes, member, from_ms) {
  const found = notes.filter(({ kind, standing, data }) => kind === "water.measured.v1" && standing !== "taken back" && typeof data?.[member] === "number");
  return found.map(({ time, data }) => ({ t_ms: ms(time), value: data[member] })).filter(({ t_ms }) => t_ms >= from_ms).sort((a, b) => a.t_ms - b.t_ms);
}

/** @param {{nursery: Nursery, system: any, member?: string}} props */
export function WaterFigure({ nursery, system, member = "temperature_c" }) {
  const { reading, trouble } = useReading(nursery, `/v1/systems/${system.id.split("/")[1]}/history`);
  const width = useWidth(720, 48);
  if (!reading) return html`<p class="hint">${trouble ? `The last weeks are not known here: ${trouble}` : "Reading …"}</p>`;
  const quantity = QUANTITIES.find((one) => one.member === member);
  const zone = zoneOf(nursery);
  const points = pointsOf(reading.body.notes ?? [], member, nursery.now() - WEEKS_MS);
  const svg = waterLine(points, { title: `${system.label}: ${quantity?.name ?? member}, two weeks`, unit: quantity?.unit ?? "", band: usualBand(system.water, member), gapHours: GAP_HOURS, dayWords: (t_ms) => weekday(t_ms, zone), width });
  return html`<figure class="figure"><${Drawing} svg=${svg} /><figcaption class="hint">Band: usual for ${system.water} water (common practice, no source), where the house has set no other.</figcaption></figure>`;
}
