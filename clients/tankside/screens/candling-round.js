// A round through one tray begins and ends with a count: "places filled 10, looked at 10".

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { COUNT_MAX } from "./notes/note.js";
import { LEFT_REASONS, ROUND_CASES_MAX, roundClosed, roundLabel, roundOpened, trayCounted } from "./notes/rounds.js";
import { Caution, Choose, Keys, Sign, isBeyond, numberOf } from "./parts/controls.js";
import { day } from "./parts/days.js";
import { zoneOf } from "./parts/reading.js";

/** @import { Nursery } from "../contracts.js" */
/** @import { Cell } from "./parts/tray.js" */

/** @param {{nursery: Nursery, tank: any, cells: Cell[]}} props */
export function StartRound({ nursery, tank, cells }) {
  const filled = cells.filter(({ egg }) => egg).length;
  const [text, setText] = useState("");
  const [other, setOther] = useState(false);
  const [round] = useState(() => nursery.newSubject("round"));
  const eggs = cells.flatMap(({ egg }) => (egg ? [egg.id] : [])).slice(0, ROUND_CASES_MAX);
  const label = roundLabel(tank.label, day(nursery.now(), zoneOf(nursery)));
  const begin = eggs.length > 0 ? roundOpened({ round, label, what: "candling", eggs, tanks: [tank.id] }) : null;
  const counted = other ? numberOf(text) : filled;
  const notes = begin && counted !== undefined && !isBeyond(text, COUNT_MAX) ? [trayCounted({ tank: tank.id, filled: counted, label: tank.label, round }), begin] : [];
  if (!begin) return html`<p>No case is in ${tank.label}.</p>`;
  return html`
    <div class="hand">
      <h2>Count the filled places of ${tank.label} first</h2>
      ${other ? html`<${Keys} label="Places filled" text=${text} onText=${setText} decimals=${false} most=${COUNT_MAX} />` : html`<p class="big-number"><b>${filled}</b> <span>places are filled, as the record has it</span></p>`}
      <${Sign} nursery=${nursery} notes=${notes} kind="main" why="Say how many" />
      <button type="button" class="key-wide" onClick=${() => setOther(!other)}>${other ? `As the record has it: ${filled}` : "I count another number"}</button>
      <${Caution}>Keep each case under water and its way up, no knocks; never lift an opened case into air. Cool sealed torch, the shortest light that answers.<//>
    </div>
  `;
}

/** @param {{nursery: Nursery, tank: any, round: {id: string}, cells: Cell[], seen: Set<string>}} props */
export function CloseRound({ nursery, tank, round, cells, seen }) {
  const filled = cells.length;
  const lookedAt = cells.filter(({ egg }) => seen.has(egg.id)).length;
  const note = roundClosed({ round: round.id, filled, lookedAt, left: [] });
  return html`
    <div class="hand">
      <h2>${tank.label}: the last case is done</h2>
      <p class="big-number"><b>${lookedAt}</b> <span>of ${filled} looked at. Count once more: are all back in their places?</span></p>
      <${Sign} nursery=${nursery} notes=${[note]} kind="main" onSigned=${() => nursery.navigate("#/")} />
    </div>
  `;
}

/** A round that ends before its last case: each one left has a reason. @param {{nursery: Nursery, round: {id: string}, cells: Cell[], seen: Set<string>, onClosed: () => void}} props */
export function CloseEarly({ nursery, round, cells, seen, onClosed }) {
  const [reason, setReason] = useState("");
  const left = cells.filter(({ egg }) => egg && !seen.has(egg.id));
  const named = left.map(({ egg }) => ({ which: egg.id, reason }));
  const notes = reason === "" ? [] : [roundClosed({ round: round.id, filled: cells.length, lookedAt: cells.length - left.length, left: named })];
  return html`
    <section>
      <${Choose} legend=${`${left.length} not looked at: ${left.map(({ egg }) => egg.label).join(", ")}. Why?`} options=${LEFT_REASONS} held=${reason} onChoose=${setReason} />
      <${Sign} nursery=${nursery} notes=${notes} why="Choose why they are left" onSigned=${onClosed} />
    </section>
  `;
}
