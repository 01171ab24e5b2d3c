// A tray: cases in their true places, which of them were looked at in this round, which are held
// apart. Form and words tell it, not colour alone.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { drawCase, numbersOf } from "../look/drawings/case.js";
import { CloseEarly } from "./candling-round.js";
import { Drawing, Fresh, TakeBack } from "./parts/controls.js";
import { clock } from "./parts/days.js";
import { isOpen } from "./parts/open.js";
import { inUse, labelOf, shapeOf, useEggs, useItems, useTanks, zoneOf } from "./parts/reading.js";
import { cellsOf, lookedAt, openRound } from "./parts/tray.js";

/** @import { ScreenProps } from "../contracts.js" */

/** All trays with cases in them. @param {ScreenProps} props */
export function Trays({ nursery }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const trays = inUse(tanks.items).map((tank) => ({ tank, cases: eggs.items.filter((egg) => isOpen(egg) && egg.place?.tank === tank.id) })).filter(({ cases }) => cases.length > 0);
  return html`
    <div class="hand">
      <${Fresh} read=${tanks} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zoneOf(nursery))} />
      <ul class="list">
        ${trays.map(({ tank, cases }) => html`<li><a class="row-key" href=${`#/tray/${tank.id}`}><b>${tank.label}</b> <span>${cases.length} cases · ${tank.purpose}</span></a></li>`)}
      </ul>
      ${trays.length === 0 && tanks.reading ? html`<p>No case is in any tray.</p>` : null}
    </div>
  `;
}

/** @param {ScreenProps} props */
export default function Tray({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const species = useItems(nursery, "/v1/species");
  const rounds = useItems(nursery, "/v1/rounds");
  const [closing, setClosing] = useState(false);
  const tank = tanks.items.find(({ id }) => id === `tank/${params.tank}`);
  const zone = zoneOf(nursery);
  if (!tank || !eggs.reading) return html`<${Fresh} read=${tanks} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  const cells = cellsOf(tank, eggs.items);
  const round = openRound(nursery.notes, rounds.items, tank.id, "candling");
  const seen = lookedAt(round, nursery.notes, "egg.candled.v1");
  const filled = cells.filter(({ egg }) => egg);
  const looked = filled.filter(({ egg }) => seen.has(egg.id)).length;
  const done = round !== null && looked === filled.length;
  return html`
    <div class="tray-screen">
      <h2>${tank.label}</h2>
      <p class="tray-count"><b>places filled ${filled.length}, looked at ${looked}</b>${round ? "" : " · no round is open"}</p>
      <ol class="tray" aria-label=${`Places of ${tank.label}, in the order of the round`}>
        ${cells.map((cell) => html`<${Place} key=${cell.key} cell=${cell} seen=${cell.egg ? seen.has(cell.egg.id) : false} inRound=${round !== null} shape=${shapeOf(species.items, cell.egg?.species)} />`)}
      </ol>
      <a class="go" href=${`#/candling/${tank.id}`}>${round ? (done ? "Close the round" : `Go on: ${filled.length - looked} to come`) : "Begin a round here"}</a>
      ${round && !done ? html`<button type="button" class="key-wide" aria-expanded=${closing} onClick=${() => setClosing(!closing)}>End the round before the last case</button>` : null}
      ${round && closing ? html`<${CloseEarly} nursery=${nursery} round=${round} cells=${filled} seen=${seen} onClosed=${() => setClosing(false)} />` : null}
      <p><a class="quiet-link" href=${`#/sheet/${tank.id}`}>Paper sheet of this tray</a> <a class="quiet-link" href=${`#/transcribe/${tank.id}`}>Type in a paper sheet</a> <a class="quiet-link" href=${`#/labels/${tank.id}`}>Labels to print</a></p>
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => labelOf(eggs.items, subject)} />
  `;
}

/** @param {{cell: import("./parts/tray.js").Cell, seen: boolean, inRound: boolean, shape?: string}} props */
function Place({ cell, seen, inRound, shape }) {
  const { egg, label } = cell;
  if (!egg) return html`<li class="place place-empty"><span class="place-label">${label}</span><span class="hint">empty</span></li>`;
  const last = egg.looks.at(-1);
  const state = egg.held_apart ? "held apart" : !inRound ? "" : seen ? "looked at" : "to come";
  return html`
    <li class="place" data-state=${state.replace(" ", "-")}>
      <a href=${`#/case/${egg.id}`}>
        <${Drawing} svg=${drawCase(last ? numbersOf(last, shape) : { shape, yolk: 0, body: 0, seen: false }, { silent: true })} />
        <b data-long=${[...egg.label].length > 10 ? "" : null}>${egg.label}</b>
        <span class="place-label">${label}${state ? html` <i><span aria-hidden="true">${mark(state)}</span> ${state}</i>` : null}</span>
      </a>
    </li>
  `;
}

/** @param {string} state */
const mark = (state) => (state === "looked at" ? "✓" : state === "held apart" ? "◇" : "○");
