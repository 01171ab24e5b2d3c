// A round sheet on paper: labels, places, last look, empty boxes, the size of the log it was made from
// and a fingerprint of what it says. Transcribing it is "written on paper at …, entered by …".

import { useEffect, useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { BANDS } from "../look/drawings/bands.js";
import { Fresh } from "./parts/controls.js";
import { clock, day, moment } from "./parts/days.js";
import { useEggs, useTanks, zoneOf } from "./parts/reading.js";
import { cellsOf } from "./parts/tray.js";

/** @import { ScreenProps } from "../contracts.js" */

/** @param {ScreenProps} props */
export default function Sheet({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const zone = zoneOf(nursery);
  const tank = tanks.items.find(({ id }) => id === `tank/${params.tank}`);
  const rows = tank ? cellsOf(tank, eggs.items).map(({ label, egg }) => [label, egg?.label ?? "", egg?.looks.at(-1) ? `${BANDS[egg.looks.at(-1).band]?.label ?? "could not see in"}, ${day(egg.looks.at(-1).time, zone)}` : ""]) : [];
  const known = eggs.reading?.body?.known_at ?? 0;
  const print = useFingerprint(JSON.stringify([tank?.id, known, rows]));
  if (!tank) return html`<${Fresh} read=${tanks} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  return html`
    <article class="sheet">
      <button type="button" class="go no-print" onClick=${() => globalThis.print()}>Print this sheet</button>
      <h2>${tank.label}: round of ____________________ by ____________________</h2>
      <p>Places filled at the start ____ · looked at ____ · places filled at the end ____</p>
      <div class="table-wrap"><table>
        <thead><tr><th scope="col">Place</th><th scope="col">Case</th><th scope="col">Last look</th>${BANDS.slice(1).map(({ band, label }) => html`<th scope="col" class="box" aria-label=${label}>${band}</th>`)}<th scope="col" class="box" aria-label="could not see in">×</th><th scope="col" class="box" aria-label="movement: m moving, s still, n could not tell">m s n</th><th scope="col">Odd things</th></tr></thead>
        <tbody>${rows.map(([place, label, last]) => html`<tr><td>${place}</td><th scope="row">${label || "empty"}</th><td>${last}</td>${BANDS.slice(1).map(() => html`<td class="box"></td>`)}<td class="box"></td><td class="box"></td><td></td></tr>`)}</tbody>
      </table></div>
      <p>${BANDS.slice(1).map(({ band, label }) => `${band} ${label.toLowerCase()}`).join(" · ")} · × could not see in · m moving, s still, n could not tell</p>
      <p class="hint">Made ${moment(nursery.now(), zone)} from a log of ${known} notes. Fingerprint of this sheet: ${print}. Keep the case under water and its way up. No movement is not death.</p>
    </article>
  `;
}

/** @param {string} text */
function useFingerprint(text) {
  const [print, setPrint] = useState("");
  useEffect(() => {
    crypto.subtle?.digest("SHA-256", new TextEncoder().encode(text)).then((hash) => setPrint([...new Uint8Array(hash)].slice(0, 8).map((byte) => byte.toString(16).padStart(2, "0")).join("")));
  }, [text]);
  return print;
}
