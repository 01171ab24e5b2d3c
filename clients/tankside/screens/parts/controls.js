// What screens are made of: a button that says what will be signed, choices, big keys, what can be
// taken back.

import { useRef, useState } from "preact/hooks";
import { html } from "../../html.js";
import { CHANGED, meaningOf, useSteady } from "./steady.js";

/** @import { Nursery } from "../../contracts.js" */
/** @import { Draft } from "../notes/note.js" */

/** While one tap is at work another one on the same button counts as none. */
export function useOnce() {
  const busy = useRef(false);
  return async (/** @type {() => Promise<any>} */ work) => {
    if (busy.current) return;
    busy.current = true;
    await work().finally(() => (busy.current = false));
  };
}

/** A drawing beside words. @param {{svg: string, kind?: string}} props */
export const Drawing = ({ svg, kind = "" }) => html`<span class=${`drawing ${kind}`} dangerouslySetInnerHTML=${{ __html: svg }}></span>`;

/** The words on a button: the first part large, the rest beside. @param {{says: string}} props */
export function Says({ says }) {
  const [first = "", ...rest] = says.split(" · ");
  return html`<span class="says"><b>${first}</b>${rest.length > 0 ? html`<span><span class="dot"> · </span>${rest.join(" · ")}</span>` : null}</span>`;
}

/**
 * Signs what stands on it, and nothing else.
 * @param {{nursery: Nursery, notes: Draft[], onSigned?: () => void, disabled?: boolean, kind?: string, why?: string|null, before?: any, sum?: string}} props
 *   why: what is missing before it can be signed; sum: the words of many notes that stand in a list right above
 */
export function Sign({ nursery, notes, onSigned, disabled = false, kind = "", why = null, before = null, sum = "" }) {
  const [trouble, setTrouble] = useState("");
  const once = useOnce();
  const off = disabled || notes.length === 0;
  const isSteady = useSteady(off ? "" : meaningOf(notes));
  const tap = () => once(async () => {
    setTrouble("");
    const tapped = /** @type {import("../../contracts.js").PendingNote[]} */ ([]);
    try {
      if (!isSteady()) throw new Error(CHANGED);
      for (const { type, data, saying } of notes) tapped.push(await nursery.act(type, data, saying));
      onSigned?.();
    } catch (error) {
      // All that stands on the button, or nothing: tapped again it must not be there twice.
      await Promise.all(tapped.map((note) => note.takeBack()));
      nursery.tone("no");
      setTrouble(error instanceof Error ? error.message : String(error));
    }
  });
  return html`
    <div class=${`sign-wrap ${kind}`}>
      <button type="button" class="sign" disabled=${off} onClick=${tap}>
        ${before}
        <span class="sign-words">${notes.length > 0 ? (sum ? [sum] : notes.map(({ saying }) => saying.says)).map((says) => html`<${Says} says=${says} />`) : html`<span class="says"><b>${why ?? "Nothing to sign yet"}</b></span>`}</span>
      </button>
      ${trouble ? html`<p class="trouble" role="alert">${trouble}</p>` : null}
    </div>
  `;
}

/**
 * One of several.
 * @param {{legend: string, options: readonly any[], held: any, onChoose: (value: any) => void, words?: (value: any) => any, kind?: string, hidden?: boolean}} props
 */
export function Choose({ legend, options, held, onChoose, words = String, kind = "", hidden = false }) {
  return html`
    <fieldset class=${`choose ${kind}`}>
      <legend class=${hidden ? "unseen" : ""}>${legend}</legend>
      ${options.map((option) => html`<button type="button" class="choice-key" aria-pressed=${option === held} onClick=${() => onChoose(option)}>${words(option)}</button>`)}
    </fieldset>
  `;
}

/**
 * Any number of several.
 * @param {{legend: string, options: readonly any[], held: readonly any[], onChange: (values: any[]) => void, words?: (value: any) => any, hidden?: boolean, kind?: string}} props
 */
export function ChooseAny({ legend, options, held, onChange, words = String, hidden = false, kind = "" }) {
  const toggle = (/** @type {any} */ option) => onChange(held.includes(option) ? held.filter((one) => one !== option) : [...held, option]);
  return html`
    <fieldset class=${`choose ${kind}`}>
      <legend class=${hidden ? "unseen" : ""}>${legend}</legend>
      ${options.map((option) => html`<button type="button" class="choice-key" aria-pressed=${held.includes(option)} onClick=${() => toggle(option)}>${words(option)}</button>`)}
    </fieldset>
  `;
}

/**
 * A number on big keys.
 * @param {{label: string, unit?: string, text: string, onText: (text: string) => void, decimals?: boolean, negative?: boolean, most?: number}} props
 */
export function Keys({ label, unit = "", text, onText, decimals = true, negative = false, most = Infinity }) {
  const press = (/** @type {string} */ key) => onText(pressed(text, key));
  const keys = ["7", "8", "9", "4", "5", "6", "1", "2", "3", decimals ? "." : "", "0", "⌫"];
  return html`
    <section class="keys" aria-label=${label}>
      <p class="keys-shown" role="status"><span class="keys-label">${label}</span> <output>${text === "" ? "–" : text}</output> <span>${unit}</span></p>
      <div class="keys-pad">
        ${keys.map((key) => (key === "" ? html`<span></span>` : html`<button type="button" class="key" aria-label=${key === "⌫" ? "Delete the last digit" : key === "." ? "point" : null} onClick=${() => press(key)}>${key}</button>`))}
        ${negative ? html`<button type="button" class="key" aria-label="minus" onClick=${() => press("−")}>−</button>` : null}
      </div>
      ${isBeyond(text, most) ? html`<p class="ask-again" role="alert">${text} ${unit} is more than a note holds: at most ${most} ${unit}. Is the unit another one?</p>` : null}
    </section>
  `;
}

/** @param {string} text @param {string} key */
export function pressed(text, key) {
  if (key === "⌫") return text.slice(0, -1);
  if (key === "−") return text.startsWith("-") ? text.slice(1) : `-${text}`;
  if (key === "." && text.includes(".")) return text;
  return `${text === "0" && key !== "." ? "" : text}${key}`.slice(0, 9);
}

/** Whether the keys say more than a note can hold. @param {string} text @param {number} most */
export const isBeyond = (text, most) => (numberOf(text) ?? 0) > most;

/** What the keys say, as a number; undefined while there is none. @param {string} text */
export function numberOf(text) {
  const number = Number(text);
  return /\d/.test(text) && Number.isFinite(number) ? number : undefined;
}

/**
 * Words of one's own, where no button has them.
 * @param {{label: string, text: string, onText: (text: string) => void, most: number, lines?: number, hint?: string}} props
 */
export function Words({ label, text, onText, most, lines = 1, hint = "" }) {
  const input = (/** @type {any} */ event) => onText(event.currentTarget.value);
  return html`
    <label class="words"><span>${label}${hint ? html` <span class="hint">${hint}</span>` : null}</span>
      ${lines > 1 ? html`<textarea rows=${lines} maxlength=${most} value=${text} onInput=${input}></textarea>` : html`<input type="text" maxlength=${most} autocomplete="off" value=${text} onInput=${input} />`}
    </label>
  `;
}

/**
 * What can still be taken back, the newest first: one big button, up to three steps.
 * @param {{nursery: Nursery, name?: (subject: string) => string, onTaken?: (subject: string) => void}} props
 */
export function TakeBack({ nursery, name = () => "", onTaken = () => {} }) {
  const pending = nursery.notes.filter(({ state }) => state === "pending");
  const groups = [...new Set(pending.map(({ group }) => group))];
  const last = pending.at(-1);
  const [late, setLate] = useState(false);
  if (!last) return html`<div class="take-back">${late ? html`<p class="hint" role="status">It is signed already. A mistake is put right from the history; both stay visible.</p>` : null}</div>`;
  const together = pending.filter(({ group }) => group === last.group);
  const label = name(last.subject);
  const tap = async () => {
    const taken = await nursery.takeBack(last.group);
    nursery.tone(taken ? "done" : "no");
    setLate(!taken);
    if (taken) onTaken(last.subject);
  };
  return html`
    <div class="take-back">
      <button type="button" class="take-back-key" onClick=${tap}>
        <b>Take back ${label}</b>
        <span>${together.length > 1 ? `${together.length} notes` : last.says}</span>
        <span class="hint">${groups.length > 1 ? `${groups.length} can be taken back, one after the other` : "unsigned so far"}</span>
      </button>
    </div>
  `;
}

/**
 * How fresh what is shown is. Off line is normal: the words stay calm.
 * @param {{read: import("./reading.js").Read, nursery: Nursery, clock: (at_ms: number) => string, what?: string}} props
 */
export function Fresh({ read, clock, what = "" }) {
  if (!read.reading) return html`<p class="fresh" role="status">${read.trouble ? `Not known here yet: ${read.trouble}` : "Reading …"}</p>`;
  return html`<p class="fresh">${what}${read.reading.fresh ? `as of ${clock(read.reading.when_ms)}` : `as this device last heard, ${clock(read.reading.when_ms)}`}</p>`;
}

/** Cautions, calm and always open to read. @param {{children?: any}} props */
export const Caution = ({ children }) => html`<p class="caution"><span aria-hidden="true">◊</span> <span>${children}</span></p>`;
