// Which sheet it is, when it was written and by whom. What the sheet says is compared with what the
// service answers of that size of the log and that minute.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useReading } from "../shell/hooks.js";
import { Choose } from "./parts/controls.js";
import { fromLocal, localText, moment, ms } from "./parts/days.js";
import { PAGE_HASH_CHARS, readCode, sheetHere, sheetPath } from "./parts/paper.js";
import { printedOf } from "./parts/printed.js";
import { carers, nameOf, zoneOf } from "./parts/reading.js";
import { Scan } from "./parts/scan.js";

/** @import { Nursery } from "../contracts.js" */
/** @import { RoundSheet } from "./parts/paper.js" */
/** @import { Filled } from "./transcribe.js" */

/**
 * The sheet, as far as it is known.
 * @typedef {object} Named
 * @property {RoundSheet} sheet its rows
 * @property {{label: string, hash?: string, size?: number}} as how notes name it
 * @property {number|null} printed_ms
 * @property {number|null} size
 * @property {boolean} checked whether the rows are those that were printed
 * @property {string} wrong what is missing or wrong, one sentence that names the field
 * @property {string} says how it stands
 */

/** @param {Nursery} nursery @param {any} tank @param {any[]} eggs @param {Filled} filled @returns {Named} */
export function useNamed(nursery, tank, eggs, filled) {
  const zone = zoneOf(nursery);
  const printed = printedOf(nursery, tank.id).find(({ item }) => item.page_hash === filled.source);
  const typed = typedSheet(filled, nursery.now(), zone);
  const ask = filled.source === "typed" && typed.wrong === "" && typed.printed_ms !== null ? { tank: tank.id, size: typed.size, printed_ms: typed.printed_ms } : null;
  const whole = useReading(nursery, ask && sheetPath(ask, true));
  const isOther = ask !== null && whole.reading !== null && whole.reading.body.item.page_hash !== typed.hash;
  const begun = useReading(nursery, isOther && ask ? sheetPath(ask, false) : null);
  const here = () => sheetHere(tank, eggs, zone);
  if (printed) return { sheet: printed.item, as: { label: tank.label, hash: printed.item.page_hash, size: printed.known_at }, printed_ms: ms(printed.as_of), size: printed.known_at, checked: true, wrong: "", says: `Printed from this device, ${moment(printed.as_of, zone)}.` };
  const none = { sheet: here(), as: { label: tank.label }, printed_ms: null, size: null, checked: false, wrong: "", says: "Its rows are those of the tray as this device knows it now." };
  if (filled.source === "none") return none;
  if (filled.source !== "typed") return { ...none, wrong: "Which sheet: say which one it is, by its page hash." };
  const named = { ...none, as: { label: tank.label, hash: typed.hash, size: typed.size }, printed_ms: typed.printed_ms, size: typed.size, wrong: typed.wrong };
  if (typed.wrong) return { ...named, says: "" };
  const found = [begun.reading, whole.reading].find((reading) => reading?.body.item.page_hash === typed.hash);
  if (found) return { ...named, sheet: found.body.item, checked: true, says: `It is this tray's sheet, made ${moment(typed.printed_ms ?? 0, zone)} from ${typed.size} notes: the service answers the same page hash.` };
  return { ...named, ...unfound(whole, isOther ? begun : null, nursery.outbox.onLine) };
}

/** @typedef {ReturnType<typeof useReading>} Read */

/** Why a sheet could not be compared, or is another one. @param {Read} whole @param {Read|null} begun @param {boolean} onLine */
function unfound(whole, begun, onLine) {
  if (begun?.reading) return { wrong: "Page hash: the service makes another one of this tray for that log size and minute. Read the foot of the sheet once more, also whether it is the sheet of this tray." };
  const trouble = begun ? begun.trouble : whole.trouble;
  if (trouble !== null && onLine) return { wrong: `Log size, made at: the service cannot make that sheet again: ${trouble}. Read the foot of the sheet once more.` };
  if (trouble !== null) return { says: "It cannot be compared off line: its rows are those of the tray as this device knows it now. Go by the labels." };
  return { wrong: "Which sheet: it is being compared with what the service knows …" };
}

/** What of the foot is typed, and what is wrong with it. @param {Filled} filled @param {number} now @param {string} zone */
function typedSheet({ hash, size, printed }, now, zone) {
  const digits = hash.toLowerCase().replaceAll(/[\s-]/g, "");
  const printed_ms = fromLocal(printed, zone);
  const wrong = !new RegExp(`^[0-9a-f]{${PAGE_HASH_CHARS}}$`).test(digits)
    ? `Page hash: it has ${PAGE_HASH_CHARS} characters, 0 to 9 and a to f; what is typed in has ${[...digits].length}. Read the foot of the sheet once more.`
    : !/^[1-9]\d{0,9}$/.test(size.trim())
      ? "Log size: put in the number that stands at the foot of the sheet."
      : printed_ms === null
        ? "Made at: put in the day and the clock that stand at the foot of the sheet."
        : printed_ms > now
          ? `Made at: ${moment(printed_ms, zone)} lies in the future. Read the foot of the sheet once more.`
          : "";
  return { hash: digits, size: Number(size), printed_ms, wrong };
}

/** @param {{nursery: Nursery, tank: any, filled: Filled, fill: (change: Partial<Filled>) => void, named: Named}} props */
export function WhichSheet({ nursery, tank, filled, fill, named }) {
  const zone = zoneOf(nursery);
  const printed = printedOf(nursery, tank.id);
  const words = (/** @type {string} */ one) => {
    const sheet = printed.find(({ item }) => item.page_hash === one);
    if (sheet) return html`<b class="page-hash">${one}</b>, log size ${sheet.known_at}, printed here ${moment(sheet.as_of, zone)}`;
    return one === "typed" ? "as its foot says: type in the page hash" : "it has no page hash, or none that can be read";
  };
  const found = (/** @type {string} */ text) => {
    const code = readCode(text);
    if (!code) return `${text.slice(0, 40)} is not the code of a round sheet.`;
    if (code.tank && code.tank !== tank.id) return "This is the sheet of another tray: open that tray first.";
    fill({ source: "typed", hash: code.hash, size: String(code.size), printed: code.printed || filled.printed });
    return null;
  };
  return html`
    <section aria-labelledby="which-sheet">
      <h2 id="which-sheet">Which sheet is it?</h2>
      <${Choose} legend="Which sheet" hidden=${true} kind="lines" options=${[...printed.map(({ item }) => item.page_hash), "typed", "none"]} held=${filled.source} onChoose=${(/** @type {string} */ source) => fill({ source })} words=${words} />
      ${filled.source === "typed" ? html`
        <div class="paper-foot">
          <${Field} label="Page hash" text=${filled.hash} onText=${(/** @type {string} */ hash) => fill({ hash })} most=${PAGE_HASH_CHARS + 8} />
          <${Field} label="Log size" text=${filled.size} onText=${(/** @type {string} */ size) => fill({ size })} most=${10} digits=${true} />
          <${When} label="Made at" text=${filled.printed} onText=${(/** @type {string} */ at) => fill({ printed: at })} most=${localText(nursery.now(), zone)} />
        </div>` : null}
      <${Scan} label="Scan the code on the sheet" found=${found} />
      ${filled.source && (named.wrong || named.says) ? html`<p class=${named.wrong ? "ask-again" : "hint"} role="status">${named.wrong || named.says}</p>` : null}
    </section>
  `;
}

/** @param {{label: string, text: string, onText: (text: string) => void, most: number, digits?: boolean}} props */
export const Field = ({ label, text, onText, most, digits = false }) => html`<label class="words"><span>${label}</span><input type="text" inputmode=${digits ? "numeric" : null} maxlength=${most} autocomplete="off" autocapitalize="off" spellcheck=${false} value=${text} onInput=${(/** @type {any} */ event) => onText(event.currentTarget.value)} /></label>`;

/** @param {{label: string, hint?: string, text: string, onText: (text: string) => void, most?: string, kind?: string}} props */
const When = ({ label, hint = "", text, onText, most, kind = "datetime-local" }) => html`<label class="words"><span>${label}${hint ? html` <span class="hint">${hint}</span>` : null}</span><input type=${kind} max=${most ?? null} value=${text} onInput=${(/** @type {any} */ event) => onText(event.currentTarget.value)} /></label>`;

/** @param {{nursery: Nursery, people: any[], filled: Filled, fill: (change: Partial<Filled>) => void, wrong: string[]}} props */
export function WrittenWhen({ nursery, people, filled, fill, wrong }) {
  const [own] = useState(() => nursery.person?.person ?? "");
  const others = carers(people).map(({ person }) => person);
  const name = (/** @type {string} */ one) => (one === own ? `${nursery.person?.name ?? "I"}, who types it in` : one === "" ? "somebody who has no key here" : nameOf(nursery, people, one));
  return html`
    <section aria-labelledby="written-when">
      <h2 id="written-when">When, and by whom?</h2>
      <div class="paper-foot">
        <${When} label="Written on paper at" hint="when it was finished" text=${filled.at} onText=${(/** @type {string} */ at) => fill({ at })} />
        <${When} label="Begun at" hint="may stay empty" kind="time" text=${filled.begun} onText=${(/** @type {string} */ begun) => fill({ begun })} />
        <${Field} label="Places filled, as counted on paper" digits=${true} text=${filled.count} onText=${(/** @type {string} */ count) => fill({ count })} most=${6} />
      </div>
      ${wrong.length > 0 && filled.at !== "" ? wrong.map((sentence) => html`<p class="ask-again" role="alert">${sentence}</p>`) : null}
      <${Choose} legend="Written by" options=${[own, ...others, ""].filter((one, at, all) => all.indexOf(one) === at)} held=${filled.by ?? own} onChoose=${(/** @type {string} */ by) => fill({ by })} words=${name} />
    </section>
  `;
}
