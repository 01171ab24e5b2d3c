// Putting right a note of a history: it did not happen so, or something of it was otherwise. The
// button says what will be signed; the old note stays visible beside the new one.

import { useEffect, useState } from "preact/hooks";
import { html } from "../../html.js";
import { canPutRight, corrected, membersOf, restored, takenBack } from "../notes/acts.js";
import { WORDS_MAX, oneLine } from "../notes/note.js";
import { Choose, ChooseAny, Sign, Words } from "../parts/controls.js";
import { fromLocal, instant, localText, moment } from "../parts/days.js";
import { zoneOf } from "../parts/reading.js";
import { memberWords, tellNote } from "./telling.js";

/** @import { Nursery } from "../../contracts.js" */
/** @import { Member } from "../notes/acts.js" */

/** @param {{nursery: Nursery, note: any}} props */
export function PutRight({ nursery, note }) {
  const [open, setOpen] = useState(false);
  const here = nursery.notes.find(({ type, data, state }) => /^record\.(?:corrected|retracted)\.v1$/.test(type) && data.target === note.id && (state === "pending" || state === "waiting"));
  if (!canPutRight(note) || nursery.person?.standing !== "enrolled") return null;
  if (here) return html`<p class="hint" role="status">${here.says}. It is not recorded yet.</p>`;
  return html`
    <button type="button" class="choice-key put-right" aria-expanded=${open} onClick=${() => setOpen(!open)}>Put right</button>
    ${open ? html`<${Form} nursery=${nursery} note=${note} done=${() => setOpen(false)} />` : null}
  `;
}

/** @param {{nursery: Nursery, note: any, done: () => void}} props */
function Form({ nursery, note, done }) {
  const [how, setHow] = useState("");
  const [reason, setReason] = useState("");
  const [change, setChange] = useState(/** @type {{time?: string, data?: Record<string, any>, words: string}|null} */ (null));
  const says = `${tellNote(note.kind)}, ${memberWords(note.data)}`;
  const last = note.acts_told?.at(-1);
  const gone = note.standing === "taken back" && last?.kind === "record.retracted.v1";
  const why = oneLine(reason);
  const hows = gone ? ["after all"] : ["not so", "otherwise"];
  const notes = why === "" ? [] : how === "not so" ? [takenBack(note, says, why)] : how === "after all" ? [restored(note, last, says, why)] : how === "otherwise" && change ? [corrected(note, change, change.words, why)] : [];
  return html`
    <section class="card">
      <${Choose} legend="What is to be put right" options=${hows} held=${how} onChoose=${(/** @type {string} */ one) => (setHow(one), setChange(null))} words=${(/** @type {string} */ one) => ({ "not so": "it did not happen so", otherwise: "something of it was otherwise", "after all": "it did happen so after all" })[one]} />
      ${how === "otherwise" ? html`<${Otherwise} nursery=${nursery} note=${note} onChange=${setChange} />` : null}
      <${Words} label="Why" hint="what the mistake was; no names" text=${reason} onText=${setReason} most=${WORDS_MAX} />
      <${Sign} nursery=${nursery} kind="main" notes=${notes} why=${how === "" ? "Say what is to be put right" : how === "otherwise" && !change ? "Say what was otherwise" : "Say why"} onSigned=${done} />
      <p class="hint">Nothing is taken out of the record: what was written stays beside what stands instead.</p>
    </section>
  `;
}

/** @param {{nursery: Nursery, note: any, onChange: (change: {time?: string, data?: Record<string, any>, words: string}|null) => void}} props */
function Otherwise({ nursery, note, onChange }) {
  const [members, setMembers] = useState(/** @type {Member[]|null} */ (null));
  const [trouble, setTrouble] = useState("");
  const [name, setName] = useState("");
  useEffect(() => {
    const fetched = async (/** @type {string} */ file) => JSON.parse(await (await nursery.fetchFile(`/v1/schemas/${file}.schema.json`)).text());
    Promise.all([fetched(note.kind), fetched("common")]).then(([schema, common]) => setMembers(membersOf(schema, common)), (error) => setTrouble(error.message));
  }, [note.kind]);
  const member = members?.find((one) => one.name === name);
  const say = (/** @type {any} */ value) => {
    const before = note.data[name];
    if (JSON.stringify(value) === JSON.stringify(before)) return onChange(null);
    const { [name]: _, ...rest } = note.data;
    const spoken = (/** @type {any} */ one) => (one === undefined ? "nothing said" : memberWords({ [name]: one }).replace(/^[^:]*: /, "") || "none");
    onChange({ data: value === undefined ? rest : { ...note.data, [name]: value }, words: `${name.replaceAll("_", " ")}: ${spoken(before)} → ${spoken(value)}` });
  };
  return html`
    ${trouble ? html`<p class="hint">What else can be put right is not known here now: ${trouble}</p>` : null}
    <${Choose} legend="What of it" options=${["time", ...(members ?? []).map((one) => one.name)]} held=${name} onChoose=${(/** @type {string} */ one) => (setName(one), onChange(null))} words=${(/** @type {string} */ one) => (one === "time" ? "when it happened" : one.replaceAll("_", " "))} />
    ${name === "time" ? html`<${Time} key="time" nursery=${nursery} note=${note} onChange=${onChange} />` : null}
    ${member ? html`<${Value} key=${name} member=${member} before=${note.data[name]} say=${say} />` : null}
  `;
}

/** @param {{nursery: Nursery, note: any, onChange: (change: {time?: string, words: string}|null) => void}} props */
function Time({ nursery, note, onChange }) {
  const zone = zoneOf(nursery);
  const [text, setText] = useState(() => localText(note.time, zone));
  const [trouble, setTrouble] = useState("");
  const input = (/** @type {any} */ event) => {
    setText(event.currentTarget.value);
    const at_ms = fromLocal(event.currentTarget.value, zone);
    const why = at_ms === null ? "Say a day and a time." : at_ms > nursery.now() ? "That is still to come." : "";
    setTrouble(why);
    onChange(at_ms === null || why || localText(note.time, zone) === event.currentTarget.value ? null : { time: instant(at_ms), words: `happened ${moment(note.time, zone)} → ${moment(at_ms, zone)}` });
  };
  return html`
    <label class="words"><span>When it happened, by the house's clock</span><input type="datetime-local" value=${text} onInput=${input} /></label>
    ${trouble ? html`<p class="ask-again" role="alert">${trouble}</p>` : null}
  `;
}

/** @param {{member: Member, before: any, say: (value: any) => void}} props */
function Value({ member, before, say }) {
  const { form, options, least, most, whole, required } = member;
  const [held, setHeld] = useState(before);
  const [text, setText] = useState(form === "number" && before !== undefined ? String(before) : "");
  const set = (/** @type {any} */ value) => (setHeld(value), say(value));
  const number = (/** @type {string} */ typed) => {
    setText(typed);
    const value = Number(typed);
    say(typed.trim() === "" || !Number.isFinite(value) || value < least || value > most || (whole && !Number.isInteger(value)) ? before : value);
  };
  const outside = form === "number" && text.trim() !== "" && !(Number(text) >= least && Number(text) <= most && (!whole || Number.isInteger(Number(text))));
  return html`
    ${form === "one" ? html`<${Choose} legend="It was" options=${options} held=${held} onChoose=${set} />` : null}
    ${form === "yes or no" ? html`<${Choose} legend="It was so" options=${[true, false]} held=${held} onChoose=${set} words=${(/** @type {boolean} */ yes) => (yes ? "yes" : "no")} />` : null}
    ${form === "several" ? html`<${ChooseAny} legend="They were" options=${options} held=${held ?? []} onChange=${(/** @type {any[]} */ all) => set(options.filter((one) => all.includes(one)))} />` : null}
    ${form === "words" ? html`<${Words} label="It was" text=${held ?? ""} onText=${(/** @type {string} */ words) => (setHeld(words), say(words.trim() === "" ? before : words.trim()))} most=${most} lines=${most > WORDS_MAX ? 3 : 1} />` : null}
    ${form === "number" ? html`<label class="words"><span>It was</span><input type="text" inputmode="decimal" autocomplete="off" value=${text} onInput=${(/** @type {any} */ event) => number(event.currentTarget.value)} /></label>` : null}
    ${outside ? html`<p class="ask-again" role="alert">${text} cannot be: a note holds ${least === -Infinity ? "" : `${least} to `}${most === Infinity ? "more" : most}${whole ? ", whole" : ""}.</p>` : null}
    ${!required && before !== undefined ? html`<button type="button" class="choice-key" aria-pressed=${held === undefined} onClick=${() => set(undefined)}>nothing is said of it</button>` : null}
  `;
}
