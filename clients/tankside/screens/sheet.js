// A round sheet on paper: labels, places, last look, empty boxes, the size of the log it was made from
// and the hash of what it says. The service makes it; off line this device draws it, without a hash.
// What is written on it is typed in on the screen "From paper".

import { useEffect, useState } from "preact/hooks";
import { html } from "../html.js";
import { Picture } from "../shell/device.js";
import { useNursery } from "../shell/hooks.js";
import { counted } from "../look/drawings/ink.js";
import { BANDS } from "../look/drawings/bands.js";
import { Fresh } from "./parts/controls.js";
import { clock, day, localText, moment } from "./parts/days.js";
import { keyed } from "./parts/keyed.js";
import { codeOf, lastWords, placeWords, sheetHere } from "./parts/paper.js";
import { keepPrinted } from "./parts/printed.js";
import { useEggs, useTanks, zoneOf } from "./parts/reading.js";
import { stylesheet } from "./parts/stylesheet.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */
/** @import { Printed, RoundSheet } from "./parts/paper.js" */

await stylesheet(new URL("../look/paper.css", import.meta.url).href);

export default keyed(Sheet);

/** @param {ScreenProps} props */
function Sheet({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const [made, anew] = useMade(nursery, `/v1/rounds/sheet?tray=${params.tank}`);
  const zone = zoneOf(nursery);
  const tank = tanks.items.find(({ id }) => id === `tank/${params.tank}`);
  const sheet = made === undefined || !tank ? null : (made?.item ?? (eggs.reading ? sheetHere(tank, eggs.items, zone) : null));
  useEffect(() => {
    const keep = () => keepPrinted(nursery, made);
    addEventListener("beforeprint", keep);
    return () => removeEventListener("beforeprint", keep);
  }, [made]);
  if (!sheet) return html`<${Fresh} read=${tanks} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  const print = () => (keepPrinted(nursery, made), globalThis.print());
  const known = eggs.reading?.body?.known_at ?? 0;
  return html`
    <article class="sheet">
      <div class="no-print two">
        <button type="button" class="go" onClick=${print}>Print this sheet</button>
        <a class="go" href=${`#/transcribe/tank/${params.tank}`}>Type in a sheet that is filled in</a>
      </div>
      ${made && known > made.known_at ? html`<p class="no-print kept-form"><span>The log has grown by ${known - made.known_at} notes since this was made.</span> <button type="button" class="choice-key" onClick=${anew}>Make it anew</button></p>` : null}
      <${Page} sheet=${sheet} made=${made ?? null} zone=${zone} now=${nursery.now()} known=${known} />
    </article>
  `;
}

/**
 * What the service makes once; the page in the hand does not change under the eye. Null: it is out of reach.
 * @param {Nursery} nursery @param {string} path @returns {[Printed|null|undefined, () => void]}
 */
function useMade(nursery, path) {
  const [made, setMade] = useState(/** @type {Printed|null|undefined} */ (undefined));
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    nursery.read(path).then(({ body: { item, known_at, as_of, suspected } }) => setMade({ item, known_at, as_of, suspected }), () => setMade(null));
  }, [path, turn]);
  return [made, () => setTurn((count) => count + 1)];
}

/** @param {{sheet: RoundSheet, made: Printed|null, zone: string, now: number, known: number}} props */
function Page({ sheet, made, zone, now, known }) {
  const dayWords = (/** @type {string} */ text) => day(`${text}T12:00:00Z`, "UTC");
  const rows = sheet.places.flatMap((place) => (place.cases.length === 0 ? [{ place: placeWords(place), label: "", last: "" }] : place.cases.map((one) => ({ place: placeWords(place), label: one.label, last: lastWords(one, dayWords) }))));
  const hash = made?.item.page_hash ?? "";
  const bands = BANDS.slice(1);
  return html`
    <header class="sheet-head">
      <div>
        <h2>${sheet.label}: round of ____________________ by ____________________</h2>
        <p>Begun at ______ · finished at ______ · places filled at the start ____ · looked at ____ · at the end ____</p>
      </div>
      ${made && hash ? html`<${Picture} text=${codeOf({ tank: sheet.tank, hash, size: made.known_at, printed: localText(made.as_of, zone) })} />` : null}
    </header>
    <div class="table-wrap"><table>
      <thead><tr><th scope="col">Place</th><th scope="col">Case</th><th scope="col">Last look</th>${bands.map(({ band, label }) => html`<th scope="col" class="box" aria-label=${label}>${band}</th>`)}<th scope="col" class="box" aria-label="could not see in">×</th><th scope="col" class="box" aria-label="no yolk">0</th><th scope="col" class="box" aria-label="movement: m moving, s still, n could not tell">m s n</th><th scope="col">Odd things</th></tr></thead>
      <tbody>${rows.map(({ place, label, last }) => html`<tr><td>${place}</td><th scope="row">${label || "empty"}</th><td>${last}</td>${bands.map(() => html`<td class="box"></td>`)}<td class="box"></td><td class="box"></td><td class="box"></td><td></td></tr>`)}</tbody>
    </table></div>
    <p>${bands.map(({ band, label }) => `${band} ${label.toLowerCase()}`).join(" · ")} · × could not see in · 0 no yolk · m moving, s still, n could not tell</p>
    ${made && made.suspected > 0 ? html`<p><b>${counted(made.suspected, "note")} of that log came while the key of its author was suspected.</b> Lines that rest on one say “suspected”.</p>` : null}
    ${hash
      ? html`<p class="hint">Page hash <b class="page-hash">${hash}</b>, log size <b>${made?.known_at}</b>, made ${moment(made?.as_of ?? now, zone)}. Keep the case under water and its way up. No movement is not death.</p>`
      : html`<p class="hint">Made by this device ${moment(now, zone)}, off line, from a log of ${known} notes; the service gave it no page hash. Keep the case under water and its way up. No movement is not death.</p>`}
  `;
}
