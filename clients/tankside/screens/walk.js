// The walk past the tanks: each tank once. One tap says all is well; the rest is there when it is not.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { QUANTITIES, askAgain, usualBand, waterMeasured } from "./notes/house.js";
import { TANK_FINDINGS, allWell, notWell, roundClosed, roundOpened } from "./notes/rounds.js";
import { COUNT_MAX, REMARK_MAX } from "./notes/note.js";
import { Caution, ChooseAny, Fresh, Keys, Sign, TakeBack, Words, isBeyond, numberOf, useOnce } from "./parts/controls.js";
import { clock, day, daysBetween } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { newestOf } from "./parts/laid-over.js";
import { inUse, isKnown, labelOf, useItems, useTanks, zoneOf } from "./parts/reading.js";
import { lookedAt, openRound } from "./parts/tray.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

/** @param {ScreenProps} props */
export default function Walk({ nursery }) {
  useNursery(nursery);
  const tanks = useTanks(nursery);
  const systems = useItems(nursery, "/v1/systems");
  const rounds = useItems(nursery, "/v1/rounds");
  const [open, setOpen] = useState("");
  const [newRound] = useState(() => nursery.newSubject("round"));
  const zone = zoneOf(nursery);
  const used = inUse(tanks.items);
  const round = openRound(nursery.notes, rounds.items, "", "daily walk");
  const seen = round ? lookedAt(round, nursery.notes, "tank.checked.v1") : checkedToday(used, nursery);
  const left = used.filter(({ id }) => !seen.has(id));
  const opening = roundOpened({ round: newRound, label: `Walk, ${day(nursery.now(), zone)}`, what: "daily walk", tanks: used.map(({ id }) => id) });
  const closing = round && roundClosed({ round: round.id, filled: used.length, lookedAt: used.length - left.length, left: left.map(({ id }) => ({ which: id, reason: "no time" })) });
  // A walk that is open already must be known before a tank is tapped, or the tap belongs to no round.
  if (!tanks.reading || !isKnown(rounds, systems)) return html`<${Fresh} read=${tanks} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  return html`
    <div class="hand">
      ${round ? html`<p class="tray-count"><b>tanks ${used.length}, walked past ${used.length - left.length}</b></p>` : html`<${Sign} nursery=${nursery} notes=${used.length > 0 ? [opening] : []} kind="main" why="No tank is set up" />`}
      <ul class="list">
        ${used.map((tank) => html`<${Tank} key=${tank.id} nursery=${nursery} tank=${tank} seen=${seen.has(tank.id)} round=${round?.id} systems=${systems.items} open=${open === tank.id} onOpen=${() => setOpen(open === tank.id ? "" : tank.id)} />`)}
      </ul>
      ${closing ? html`<${Sign} nursery=${nursery} notes=${[closing]} onSigned=${() => nursery.navigate("#/")} />` : null}
      <${Caution}>Two people where animals bite or have spines. Wet hands off electricity.<//>
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => labelOf(tanks.items, subject)} />
  `;
}

/** Without a round: tanks walked past today, here or as read. @param {any[]} tanks @param {Nursery} nursery */
function checkedToday(tanks, nursery) {
  const today = (/** @type {string|undefined} */ time) => time !== undefined && daysBetween(time, nursery.now(), zoneOf(nursery)) === 0;
  return new Set(tanks.filter(({ id, last_check }) => today(newestOf(nursery.notes, "tank.checked.v1", id)?.time) || today(last_check?.time)).map(({ id }) => id));
}

/** @param {{nursery: Nursery, tank: any, seen: boolean, round?: string, systems: any[], open: boolean, onOpen: () => void}} props */
function Tank({ nursery, tank, seen, round, systems, open, onOpen }) {
  const well = allWell({ tank: tank.id, label: tank.label, round });
  const [trouble, setTrouble] = useState("");
  const once = useOnce();
  const tap = () => once(async () => {
    try {
      await nursery.act(well.type, well.data, well.saying);
      nursery.tone("done");
      setTrouble("");
    } catch (error) {
      nursery.tone("no");
      setTrouble(error instanceof Error ? error.message : String(error));
    }
  });
  const who = `${tank.animals.length} animals${tank.eggs.length > 0 ? `, ${tank.eggs.length} cases` : ""}`;
  return html`
    <li class="walk-tank" data-state=${seen ? "looked-at" : "to-come"}>
      <div class="walk-row">
        <button type="button" class="sign walk-well" disabled=${seen} onClick=${tap}>
          <span class="says"><b>${seen ? `✓ ${tank.label}` : tank.label}</b><span>${seen ? " · walked past" : " · all well"}</span></span>
          <span class="hint">${who}</span>
        </button>
        <button type="button" class="walk-more" aria-expanded=${open} onClick=${onOpen} aria-label=${`More about ${tank.label}: what is not well, a count, a temperature`}>More</button>
      </div>
      ${open ? html`<${KeptMore} nursery=${nursery} tank=${tank} round=${round} system=${systems.find(({ id }) => id === tank.system)} done=${onOpen} />` : null}
    </li>
  `;
}

/** @param {{nursery: Nursery, tank: any, round?: string, system: any, done: () => void, form: string, anew: () => void}} props */
function More({ nursery, tank, round, system, done, form, anew }) {
  const [findings, setFindings] = useKept(nursery, form, "findings", /** @type {string[]} */ ([]));
  const [count, setCount] = useKept(nursery, form, "count", "");
  const [whole, setWhole] = useKept(nursery, form, "whole", true);
  const [remark, setRemark] = useKept(nursery, form, "remark", "");
  const seen = numberOf(count);
  const note = notWell({ tank: tank.id, label: tank.label, findings, seen, whole, remark, round });
  const nothing = findings.length === 0 && seen === undefined && remark === "";
  const leads = LEADS.filter(([finding]) => findings.includes(finding));
  return html`
    <section class="walk-open">
      <${ChooseAny} legend="What is not well" options=${TANK_FINDINGS} held=${findings} onChange=${setFindings} />
      <${Keys} label="Animals seen" text=${count} onText=${setCount} decimals=${false} most=${COUNT_MAX} />
      <button type="button" class="choice-key" aria-pressed=${whole} onClick=${() => setWhole(!whole)}>${whole ? "the whole tank was counted" : "a part was counted"}</button>
      <${Words} label="In words" text=${remark} onText=${setRemark} most=${REMARK_MAX} lines=${2} />
      <${Sign} nursery=${nursery} kind="main" notes=${nothing || isBeyond(count, COUNT_MAX) ? [] : [note]} why="Say what was seen" onSigned=${() => (anew(), done())} />
      ${leads.map(([, href, words]) => html`<a class="key-wide" href=${href}>${words}</a>`)}
      <${Temperature} nursery=${nursery} tank=${tank} system=${system} round=${round} />
    </section>
  `;
}

const KeptMore = keptForm(More, ({ tank }) => `walk/${tank.id}`);

const LEADS = /** @type {const} */ ([["dead", "#/dead", "Note who was found dead"], ["hatched", "#/hatched", "Note the hatch"], ["equipment", "#/happened", "Note the fault"], ["jumped out", "#/happened", "Note what happened"], ["injured", "#/happened", "Note what happened"]]);

/** @param {{nursery: Nursery, tank: any, system: any, round?: string}} props */
function Temperature({ nursery, tank, system, round }) {
  const [text, setText] = useState("");
  const quantity = /** @type {import("./notes/house.js").Quantity} */ (QUANTITIES[0]);
  const value = numberOf(text);
  const instrument = tank.last_reading?.instrument ?? system?.last_reading?.instrument ?? "thermometer";
  const asked = value === undefined ? null : askAgain(quantity, value, { last: tank.last_reading?.temperature_c ?? system?.last_reading?.temperature_c, band: usualBand(system?.water ?? "", quantity.member) });
  const far = text !== "" && value !== undefined && (value < quantity.least || value > quantity.most);
  const fits = value !== undefined && value >= quantity.least && value <= quantity.most;
  const notes = fits ? [waterMeasured({ subject: tank.id, label: tank.label, instrument, quantity, value, round })] : [];
  return html`
    <${Keys} label=${`Temperature, ${instrument}`} unit="°C" text=${text} onText=${setText} />
    ${far ? html`<p class="ask-again" role="alert">${text} °C cannot be water here: a note holds ${quantity.least} to ${quantity.most}.</p>` : null}
    ${asked && !far ? html`<p class="ask-again" role="status">${asked} Read it once more; it can be signed all the same.</p>` : null}
    <${Sign} nursery=${nursery} notes=${notes} why="Read the temperature" onSigned=${() => setText("")} />
  `;
}

