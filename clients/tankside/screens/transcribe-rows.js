// The rows of a sheet: a digit ticks a band as its box is headed on paper, a letter says the movement,
// an arrow or Tab goes on. A row that is opened has the bands of the round screen as buttons.

import { useRef, useState } from "preact/hooks";
import { html } from "../html.js";
import { drawCase, numbersOf } from "../look/drawings/case.js";
import { bandOf } from "../look/drawings/bands.js";
import { Bands } from "./candling-bands.js";
import { FINDINGS, MOVEMENTS, movementOf } from "./notes/candling.js";
import { WORDS_MAX } from "./notes/note.js";
import { entryWords, isEmpty, missingOf } from "./notes/paper.js";
import { LEFT_REASONS } from "./notes/rounds.js";
import { Choose, ChooseAny, Drawing, Words } from "./parts/controls.js";
import { day } from "./parts/days.js";
import { lastWords } from "./parts/paper.js";

/** @import { Entry } from "./notes/paper.js" */
/** @import { Row } from "./parts/paper.js" */

/** What each key ticks. @type {Record<string, Entry>} */
const KEYS = { m: { movement: "moving" }, s: { movement: "still" }, n: { movement: "could not tell" }, x: { band: null }, ...Object.fromEntries([0, 1, 2, 3, 4, 5, 6, 7].map((band) => [String(band), { band }])) };
/** Where a key goes, of so many rows. @type {Record<string, (at: number, count: number) => number>} */
const GOES = { ArrowDown: (at) => at + 1, ArrowUp: (at) => at - 1, Home: () => 0, End: (_, count) => count - 1 };

/**
 * @typedef {object} RowsProps
 * @property {Row[]} rows
 * @property {Record<string, Entry>} entries
 * @property {(key: string, entry: Entry) => void} enter
 * @property {(egg: any) => string|undefined} shapeFor
 * @property {Map<string, {wrong: string, beside: string[]}>} against
 * @property {(row: Row) => boolean} asksWhy whether a row without a look needs a reason
 */

/** @param {RowsProps} props */
export function Rows({ rows, entries, enter, shapeFor, against, asksWhy }) {
  const [open, setOpen] = useState("");
  const [said, setSaid] = useState("");
  const list = useRef(/** @type {HTMLOListElement|null} */ (null));
  const go = (/** @type {number} */ at) => {
    const heads = [...(list.current?.querySelectorAll(".paper-head") ?? [])];
    /** @type {HTMLElement|undefined} */ (heads[Math.max(0, Math.min(heads.length - 1, at))])?.focus();
  };
  const cases = rows.filter(({ on }) => on);
  const press = (/** @type {any} */ event, /** @type {Row} */ row) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.target.matches("input, textarea")) return;
    const { key } = event;
    const goes = GOES[key];
    const ticks = KEYS[key.toLowerCase()];
    const entry = entries[row.key] ?? {};
    if (goes) go(goes(cases.indexOf(row), cases.length));
    else if (ticks) enter(row.key, { ...entry, ...ticks });
    else if (key === "Backspace" || key === "Delete") enter(row.key, {});
    else return;
    event.preventDefault();
    if (!goes) setSaid(`${row.on?.label}: ${ticks ? entryWords({ ...entry, ...ticks }).join(", ") : "empty"}`);
  };
  return html`
    <section aria-labelledby="paper-rows">
      <h2 id="paper-rows">What stands on it</h2>
      <p class="hint">Tap a row, or go by keys: <kbd>1</kbd> to <kbd>7</kbd> the band, <kbd>0</kbd> no yolk, <kbd>x</kbd> could not see in; <kbd>m</kbd> moving, <kbd>s</kbd> still, <kbd>n</kbd> could not tell; <kbd>↓</kbd> the next row, <kbd>⌫</kbd> empties it, <kbd>Enter</kbd> opens it. A row left empty is not looked at.</p>
      <p class="unseen" role="status">${said}</p>
      <ol class="paper-rows" ref=${list}>
        ${rows.map((row) => (row.on ? html`<${Line} key=${row.key} row=${row} entry=${entries[row.key] ?? {}} enter=${(/** @type {Entry} */ entry) => enter(row.key, entry)} shape=${shapeFor(row.egg)} against=${against.get(row.key)} asksWhy=${asksWhy(row)}
          open=${open === row.key} toggle=${() => setOpen(open === row.key ? "" : row.key)} press=${(/** @type {any} */ event) => press(event, row)} next=${nextOf(cases, row)} goOn=${() => (setOpen(""), go(cases.indexOf(row) + 1))} />` : html`<li key=${row.key} class="paper-empty"><span class="paper-place">${row.place}</span> <span class="hint">empty</span></li>`))}
      </ol>
    </section>
  `;
}

/** @param {Row[]} cases @param {Row} row */
const nextOf = (cases, row) => cases[cases.indexOf(row) + 1]?.on?.label ?? "";

/**
 * @param {{row: Row, entry: Entry, enter: (entry: Entry) => void, shape?: string, against?: {wrong: string, beside: string[]}, asksWhy: boolean, open: boolean, toggle: () => void, press: (event: any) => void, next: string, goOn: () => void}} props
 */
function Line({ row, entry, enter, shape, against, asksWhy, open, toggle, press, next, goOn }) {
  const { on, place, extra } = row;
  if (!on) return null;
  const [first, ...rest] = entryWords(entry);
  const lacks = missingOf(entry);
  const state = isEmpty(entry) ? "empty" : lacks || against?.wrong ? "lacks" : "whole";
  const numbers = on.band === undefined ? { shape, yolk: 0, body: 0, seen: false } : numbersOf({ band: on.band }, shape);
  const last = extra ? "not on the sheet" : lastWords(on, (text) => day(`${text}T12:00:00Z`, "UTC"));
  return html`
    <li class="paper-row" data-state=${state} onKeyDown=${press}>
      <button type="button" class="paper-head" aria-expanded=${open} onClick=${toggle}>
        <span class="paper-place">${place}</span>
        <b class="paper-label">${on.label}</b>
        <span class="paper-last"><${Drawing} svg=${drawCase(numbers, { silent: true })} /><span>${last}</span></span>
        <span class="paper-entry"><b>${first}</b>${rest.map((part) => html`<span> · ${part}</span>`)}${lacks ? html`<i>${lacks}</i>` : null}</span>
      </button>
      ${against?.wrong && !isEmpty(entry) ? html`<p class="ask-again" role="alert">${against.wrong}</p>` : null}
      ${(against?.beside ?? []).map((sentence) => html`<p class="paper-beside">${sentence}</p>`)}
      ${open ? html`<${Opened} entry=${entry} enter=${enter} shape=${shape} asksWhy=${asksWhy} label=${on.label} next=${next} goOn=${goOn} />` : null}
    </li>
  `;
}

/** @param {{entry: Entry, enter: (entry: Entry) => void, shape?: string, asksWhy: boolean, label: string, next: string, goOn: () => void}} props */
function Opened({ entry, enter, shape, asksWhy, label, next, goOn }) {
  const put = (/** @type {Entry} */ change) => enter({ ...entry, ...change });
  // What a tap on a band says, with the movement that is ticked already.
  const say = (/** @type {number|null} */ band) => ({ saying: { subject: "", says: band === null ? "Could not see in" : [bandOf(band).label, band < 2 ? `movement: ${movementOf(band, "")}` : (entry.movement ?? "")].filter((part) => part !== "").join(" · ") } });
  return html`
    <div class="paper-opened">
      <${Choose} legend=${`Movement of ${label} on paper`} kind="switch" options=${MOVEMENTS} held=${entry.movement} onChoose=${(/** @type {string} */ movement) => put({ movement })} />
      <${Bands} shape=${shape} say=${say} held=${entry.band} keyed=${true} tap=${(/** @type {number|null} */ band) => put({ band })} />
      <${ChooseAny} legend="Odd things on paper, any number" options=${FINDINGS} held=${entry.findings ?? []} onChange=${(/** @type {string[]} */ findings) => put({ findings })} />
      <${Words} label="Remark on paper" text=${entry.words ?? ""} onText=${(/** @type {string} */ words) => put({ words })} most=${WORDS_MAX} />
      ${isEmpty(entry) && asksWhy ? html`<${Choose} legend=${`${label} was not looked at, because`} options=${LEFT_REASONS} held=${entry.reason} onChoose=${(/** @type {string} */ reason) => put({ reason })} />` : null}
      <div class="beside">
        <button type="button" class="key-wide" disabled=${isEmpty(entry)} onClick=${() => enter({})}>Empty this row</button>
        <button type="button" class="key-wide primary" onClick=${goOn}>${next ? `Go on: ${next}` : "That was the last row"}</button>
      </div>
    </div>
  `;
}
