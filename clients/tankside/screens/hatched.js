// Hatched: which case, when, who came out. Wholly out and alive at the first look is hatched; dead in
// the case or half out is a lost case, trapped at hatching.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { lost } from "./notes/candling.js";
import { hatched } from "./notes/eggs.js";
import { LABEL_MAX, LENGTH_CM_MAX, MASS_G_MAX, REMARK_MAX } from "./notes/note.js";
import { Opened } from "./hatched-opened.js";
import { Caution, Choose, ChooseAny, Fresh, Keys, Sign, TakeBack, Words, isBeyond, numberOf } from "./parts/controls.js";
import { clock, instant, moment, since } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { keyed } from "./parts/keyed.js";
import { isOpen } from "./parts/open.js";
import { byLabel, inUse, isKnown, labelOf, useAnimals, useEggs, useTanks, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

export default keyed(Hatched);

/** Minutes ago; a hatch that was seen may be noted when the hands are dry. */
const AGO = /** @type {const} */ ([0, 15, 60, 240, 720]);
const LATE_MINUTES = 15;
const HOWS = /** @type {const} */ (["found hatched", "seen to hatch", "camera"]);

/** @param {ScreenProps} props */
function Hatched({ nursery, params }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const tanks = useTanks(nursery);
  const animals = useAnimals(nursery);
  const [egg, setEgg] = useState(params.egg ? `egg/${params.egg}` : "");
  const [what, setWhat] = useState("hatched");
  const zone = zoneOf(nursery);
  const open = eggs.items.filter((one) => isOpen(one) && one.taken_in).toSorted((a, b) => (b.band ?? 0) - (a.band ?? 0) || byLabel(a, b));
  const chosen = open.find(({ id }) => id === egg);
  const ended = chosen ? null : eggs.items.find(({ id }) => id === egg);
  const known = isKnown(eggs, tanks, animals);
  return html`
    <div class="hand">
      ${chosen ? html`
        <header class="card-head"><h2>${chosen.label}</h2><button type="button" class="choice-key" onClick=${() => setEgg("")}>Another case</button></header>
        <${Choose} legend="What is it" hidden=${true} options=${["hatched", "trapped", "opened"]} held=${what} onChoose=${setWhat} words=${(/** @type {string} */ one) => ({ hatched: "hatched", trapped: "dead in the case or half out", opened: "the case was opened" })[one]} />
        ${what === "hatched" && !known ? html`<p role="status">Reading which tanks and cases there are …</p>` : null}
        ${what === "hatched" && known ? html`<${KeptOut} key=${egg} nursery=${nursery} egg=${chosen} others=${open.filter(({ id }) => id !== egg)} tanks=${inUse(tanks.items)} animals=${animals.items} onSigned=${() => setEgg("")} />` : null}
        ${what === "trapped" ? html`<${Sign} nursery=${nursery} notes=${[lost({ egg, cause: "trapped at hatching", band: chosen.band })]} onSigned=${() => (nursery.tone("loss"), setEgg(""))} /><${Caution}>Half out and moving is not lost: leave it in the water and tell a colleague and the veterinarian.<//>` : null}
        ${what === "opened" ? html`<${Opened} nursery=${nursery} egg=${chosen} onSigned=${() => setWhat("hatched")} />` : null}
      ` : html`
        ${ended ? html`<p class="ask-again" role="status">${ended.label} is no longer open: ${ended.fate.state.replaceAll("_", " ")}, ${since(ended.fate.time, nursery.now(), zone)}.</p>` : null}
        <h2>Which case?</h2>
        <div class="label-grid">${open.map((one) => html`<button type="button" class="label-key" onClick=${() => setEgg(one.id)}><b>${one.label}</b> <span>${labelOf(tanks.items, one.place?.tank)}</span></button>`)}</div>
        ${open.length === 0 && eggs.reading ? html`<p>No case is open.</p>` : null}
        <${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`}
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => labelOf(eggs.items, subject)} />
  `;
}

/** @param {{nursery: Nursery, egg: any, others: any[], tanks: any[], animals: any[], onSigned: () => void, form: string, anew: () => void}} props */
function Out({ nursery, egg, others, tanks, animals, onSigned, form, anew }) {
  const [how, setHow] = useKept(nursery, form, "how", "found hatched");
  const [count, setCount] = useKept(nursery, form, "count", 1);
  const [young, setYoung] = useKept(nursery, form, "young", /** @type {Young[]} */ ([]));
  const [oneOf, setOneOf] = useKept(nursery, form, "oneOf", /** @type {string[]|null} */ (null));
  const [remark, setRemark] = useKept(nursery, form, "remark", "");
  const [ago, setAgo] = useKept(nursery, form, "ago", 0);
  // Reckoned from when it was said, so that it stands still while the rest is filled in.
  const [at_ms, setAt] = useKept(nursery, form, "at_ms", 0);
  const when = (/** @type {number} */ minutes) => (setAgo(minutes), setAt(minutes === 0 ? 0 : nursery.now() - minutes * 60_000));
  const late = at_ms > 0 && nursery.now() - at_ms >= (LATE_MINUTES - 1) * 60_000 ? "noted when the hands were free" : undefined;
  const [subjects] = useState(() => Array.from({ length: 9 }, () => nursery.newSubject("animal")));
  const nurseryTanks = tanks.filter(({ purpose }) => ["nursery", "rearing", "holding", "quarantine"].includes(purpose));
  const [tank, setTank] = useKept(nursery, form, "tank", nurseryTanks[0]?.id ?? "");
  const zone = zoneOf(nursery);
  // What the record said when this was opened: a look that arrives later does not move the stretch.
  const [last] = useState(() => egg.looks.at(-1));
  const all = Array.from({ length: count }, (_, index) => young[index] ?? NEW_YOUNG);
  const out = all.map(({ state, label, length, mass, massHow }, index) => ({ animal: subjects[index] ?? "", state, label: label.trim() || undefined, length_cm: numberOf(length), mass_g: numberOf(mass), massHow, tank: tank || undefined }));
  const since_ = how === "found hatched" && last ? last.time : undefined;
  const note = hatched({ egg: egg.id, how, young: out, tankLabel: tank ? labelOf(tanks, tank) : undefined, oneOf: oneOf ? [egg.label, ...oneOf.map((id) => labelOf(others, id))] : [], remark, ...(at_ms > 0 ? { time: instant(at_ms), late } : {}), timeafter: since_ && since_ < instant(at_ms || nursery.now()) ? since_ : undefined });
  const beyond = all.some(({ length, mass }) => isBeyond(length, LENGTH_CM_MAX) || isBeyond(mass, MASS_G_MAX));
  const change = (/** @type {number} */ at, /** @type {Partial<Young>} */ part) => setYoung(Object.assign([...all], { [at]: { ...all[at], ...part } }));
  return html`
    <${Choose} legend="How it is known" options=${HOWS} held=${how} onChoose=${setHow} />
    <${Choose} legend=${how === "found hatched" ? "When it was found" : "When it hatched"} options=${AGO} held=${ago} onChoose=${when} words=${(/** @type {number} */ minutes) => (minutes === 0 ? "just now" : `${minutes < 60 ? `${minutes} minutes` : `${minutes / 60} h`} ago`)} />
    ${at_ms > 0 ? html`<p class="hint">That is ${moment(at_ms, zone)}${late ? `; ${late}` : ""}.</p>` : null}
    ${since_ ? html`<p class="hint">It hatched between the last look, ${since(since_, nursery.now(), zone)}, and then.</p>` : null}
    <${Choose} legend="Young found" options=${[0, 1, 2]} held=${count} onChoose=${setCount} words=${(/** @type {number} */ one) => (one === 0 ? "none, case empty" : one)} />
    ${all.map((one, index) => html`<${OneYoung} key=${index} nursery=${nursery} index=${index} young=${one} taken=${animals} change=${(/** @type {Partial<Young>} */ part) => change(index, part)} />`)}
    <${Choose} legend="Put in" options=${["", ...nurseryTanks.map(({ id }) => id)]} held=${tank} onChoose=${setTank} words=${(/** @type {string} */ id) => (id === "" ? "not moved yet" : labelOf(nurseryTanks, id))} />
    <button type="button" class="choice-key" aria-pressed=${oneOf !== null} onClick=${() => setOneOf(oneOf ? null : [])}>It may have come from one of several cases</button>
    ${oneOf ? html`<${ChooseAny} legend="Which others" options=${others.map(({ id }) => id)} held=${oneOf} onChange=${setOneOf} words=${(/** @type {string} */ id) => labelOf(others, id)} />` : null}
    <${Words} label="In words" text=${remark} onText=${setRemark} most=${REMARK_MAX} lines=${2} />
    <${Sign} nursery=${nursery} kind="main" notes=${beyond ? [] : [note]} why="A length or a mass cannot be so" onSigned=${() => (nursery.tone("done"), anew(), onSigned())} />
    <${Caution}>Handle no longer than needed, wet and supported.<//>
  `;
}

const KeptOut = keptForm(Out, ({ egg }) => `hatched/${egg.id}`);

/** @typedef {{state: "alive"|"dead", label: string, length: string, mass: string, massHow: string}} Young */
/** @type {Young} */
const NEW_YOUNG = { state: "alive", label: "", length: "", mass: "", massHow: "drained" };

/** @param {{nursery: Nursery, index: number, young: Young, taken: any[], change: (part: Partial<Young>) => void}} props */
function OneYoung({ index, young, taken, change }) {
  const [measure, setMeasure] = useState("");
  const twice = young.label.trim() !== "" && taken.some(({ label }) => label === young.label.trim());
  return html`
    <section class="card">
      <h3>Young ${index + 1}</h3>
      <${Choose} legend="At the first look" options=${["alive", "dead"]} held=${young.state} onChoose=${(/** @type {"alive"|"dead"} */ state) => change({ state })} />
      <${Words} label="Label" hint="empty: none yet" text=${young.label} onText=${(/** @type {string} */ label) => change({ label })} most=${LABEL_MAX} />
      ${twice ? html`<p class="ask-again">Another animal has this label. It can be signed all the same.</p>` : null}
      <${Choose} legend="Measure" options=${["", "length", "mass"]} held=${measure} onChoose=${setMeasure} words=${(/** @type {string} */ one) => (one === "" ? "not now" : one === "length" ? `length${young.length ? `: ${young.length} cm` : ""}` : `mass${young.mass ? `: ${young.mass} g` : ""}`)} />
      ${measure === "length" ? html`<${Keys} label="Length" unit="cm" most=${LENGTH_CM_MAX} text=${young.length} onText=${(/** @type {string} */ length) => change({ length })} />` : null}
      ${measure === "mass" ? html`<${Keys} label="Mass" unit="g" most=${MASS_G_MAX} text=${young.mass} onText=${(/** @type {string} */ mass) => change({ mass })} /><${Choose} legend="Weighed" options=${["drained", "in water"]} held=${young.massHow} onChoose=${(/** @type {string} */ massHow) => change({ massHow })} />` : null}
    </section>
  `;
}
