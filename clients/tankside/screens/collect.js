// Collect: cases out of the adults' tanks. A search that found nothing is worth as much as a find: it
// closes the window in which the next case can have been laid.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { CASE_LOOKS, LAID, PAIR_BASES, YOLK_LOOKS, collected, nextLabels, searched } from "./notes/eggs.js";
import { LABEL_MAX, oneLine } from "./notes/note.js";
import { Caution, Choose, ChooseAny, Fresh, Sign, TakeBack, Words } from "./parts/controls.js";
import { clock, since } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { isHere, isOpen } from "./parts/open.js";
import { Scan } from "./parts/scan.js";
import { inUse, isKnown, labelOf, lastOf, useAnimals, useEggs, useItems, useTanks, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

const FOUND_MAX = 6;

/** @param {ScreenProps} props */
export default function Collect({ nursery }) {
  useNursery(nursery);
  const tanks = useTanks(nursery);
  const animals = useAnimals(nursery);
  const eggs = useEggs(nursery);
  const species = useItems(nursery, "/v1/species");
  const [open, setOpen] = useState("");
  const zone = zoneOf(nursery);
  const tank = tanks.items.find(({ id }) => id === open);
  const adults = inUse(tanks.items).filter(({ purpose, id }) => purpose === "adults" || purpose === "display" || animals.items.some((one) => isHere(one) && one.sex === "female" && one.place?.tank === id));
  const known = isKnown(tanks, animals, eggs, species);
  if (tank && !known) return html`<div class="hand"><h2>Eggs from ${tank.label}</h2><p role="status">Reading who is in the tank and which labels are taken …</p><button type="button" class="key-wide" onClick=${() => setOpen("")}>Back, sign nothing</button></div>`;
  if (tank) return html`<${KeptFind} key=${tank.id} nursery=${nursery} tank=${tank} tanks=${inUse(tanks.items)} animals=${animals.items} eggs=${eggs.items} species=${species.items} back=${() => setOpen("")} />`;
  return html`
    <div class="hand">
      <${Caution}>Two people search among adults: bites, fin spines, diving and height rules of the house. Do not take a case from a female that still lays it.<//>
      ${adults.map((one) => {
        const last = lastSearch(one, nursery);
        return html`
          <article class="card">
            <header class="card-head"><h2>${one.label}</h2><span class="hint">${last ? `searched ${since(last, nursery.now(), zone)}` : "no search noted yet"}</span></header>
            <div class="two">
              <${Sign} nursery=${nursery} notes=${[searched({ tank: one.id, label: one.label, found: 0 })]} />
              <button type="button" class="key-wide primary" onClick=${() => setOpen(one.id)}>Eggs found</button>
            </div>
          </article>`;
      })}
      ${adults.length === 0 && tanks.reading ? html`<p>No tank with adults is set up.</p>` : null}
      <${Fresh} read=${tanks} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => (subject.startsWith("tank/") ? labelOf(tanks.items, subject) : labelOf(eggs.items, subject))} />
  `;
}

/** The newest search of the whole tank, here or as read. @param {any} tank @param {Nursery} nursery */
function lastSearch(tank, nursery) {
  const here = nursery.notes.findLast(({ type, subject, state, data }) => type === "tank.searched.v1" && subject === tank.id && state !== "refused" && data.whole_tank);
  return here?.time ?? (tank.last_search?.whole_tank ? tank.last_search.time : undefined);
}

/**
 * What the record offers is taken once, when this is opened: who was in the tank, which label comes
 * next, which tray was the last, since when. An answer that comes later changes none of it, and what
 * it says otherwise is told beside.
 * @param {{nursery: Nursery, tank: any, tanks: any[], animals: any[], eggs: any[], species: any[], back: () => void, form: string, anew: () => void}} props
 */
function Find({ nursery, tank, tanks, animals, eggs, species, back, form, anew }) {
  const here = animals.filter((animal) => isHere(animal) && animal.place?.tank === tank.id);
  const trays = tanks.filter(({ purpose }) => purpose === "incubation");
  const [offered] = useState(() => ({ here, since: lastSearch(tank, nursery) }));
  const [next, keepNext] = useKept(nursery, form, "next", () => Array.from({ length: FOUND_MAX }, (_, at) => nextLabels(eggs.map(({ label }) => label))(at + 1)));
  const kinds = [...new Set(offered.here.flatMap((animal) => (animal.species ? [animal.species] : [])))];
  const [kind, setKind] = useKept(nursery, form, "kind", kinds.length === 1 ? /** @type {string} */ (kinds[0]) : "");
  const [laid, setLaid] = useKept(nursery, form, "laid", "pair");
  const [count, setCount] = useKept(nursery, form, "count", 2);
  const [basis, setBasis] = useKept(nursery, form, "basis", "same colour and condition");
  const [looks, setLooks] = useKept(nursery, form, "looks", /** @type {string[]} */ ([]));
  const [yolks, setYolks] = useKept(nursery, form, "yolks", /** @type {string[]} */ ([]));
  const [labels, setLabels] = useKept(nursery, form, "labels", /** @type {string[]} */ ([]));
  const [subjects] = useState(() => Array.from({ length: FOUND_MAX }, () => nursery.newSubject("egg")));
  const mothers = offered.here.filter(({ sex, species: own }) => sex !== "male" && (kind === "" || own === kind));
  const [dams, setDams] = useKept(nursery, form, "dams", /** @type {string[]|null} */ (null));
  const [tray, setTray] = useKept(nursery, form, "tray", () => lastTray(eggs, trays));
  const chosen = (dams ?? mothers.map(({ id }) => id)).filter((id) => mothers.some((one) => one.id === id));
  const cases = Array.from({ length: count }, (_, index) => ({ egg: subjects[index] ?? "", label: labels[index] ?? next[index] ?? "", look: looks[index] ?? "whole", yolk: yolks[index] ?? "" }));
  const missing = kind === "" ? "Choose the species" : cases.some(({ yolk }) => yolk === "") ? "Say of each case whether yolk was seen" : cases.some(({ label }) => label.trim() === "") ? "Each case needs a label" : null;
  const find = { tank: tank.id, tankLabel: tank.label, species: kind, laid, pairBasis: basis, dams: chosen, toTank: tray || undefined, toLabel: tray ? labelOf(trays, tray) : undefined, since: offered.since };
  const twice = (/** @type {string} */ label, /** @type {number} */ at) => eggs.some((egg) => egg.label === label.trim() && !subjects.includes(egg.id)) || cases.some((other, index) => index !== at && other.label.trim() === label.trim());
  const put = (/** @type {string[]} */ list, /** @type {number} */ at, /** @type {string} */ value) => Object.assign([...list], { [at]: value });
  const choose = (/** @type {string} */ how) => (setLaid(how), setCount(how === "pair" ? 2 : 1));
  return html`
    <div class="hand">
      <h2>Eggs from ${tank.label}</h2>
      <${Choose} legend="How they were laid" options=${LAID} held=${laid} onChoose=${choose} words=${(/** @type {string} */ how) => (how === "unknown" ? "cannot tell" : how)} />
      ${kinds.length !== 1 ? html`<${Choose} legend="Species" options=${kinds.length > 0 ? kinds : species.map(({ id }) => id)} held=${kind} onChoose=${setKind} words=${(/** @type {string} */ id) => species.find((one) => one.id === id)?.common_name ?? lastOf(id)} />` : null}
      ${cases.map((one, index) => html`
        <section class="card" aria-label=${`Case ${one.label}`}>
          <${Scan} label="Scan its label" found=${(/** @type {string} */ text) => labelRead(text, (label) => setLabels(put(labels, index, label)))} />
          <${Words} label=${`Label of case ${index + 1}`} text=${one.label} onText=${(/** @type {string} */ text) => setLabels(put(labels, index, text))} most=${LABEL_MAX} />
          ${twice(one.label, index) ? html`<p class="ask-again" role="status">Another case has the label ${one.label.trim()}. It can be signed all the same; two cases with one label are hard to tell apart.</p>` : null}
          <${Choose} legend="Yolk, against the torch" options=${YOLK_LOOKS} held=${one.yolk} onChoose=${(/** @type {string} */ yolk) => (keepNext(next), setYolks(put(yolks, index, yolk)))} words=${(/** @type {string} */ look) => (look === "seen" ? "yolk seen" : look === "not seen" ? "no yolk" : "could not see")} />
          <${Choose} legend="Case" options=${CASE_LOOKS} held=${one.look} onChoose=${(/** @type {string} */ look) => setLooks(put(looks, index, look))} />
        </section>`)}
      <${Choose} legend="Put in" options=${["", ...trays.map(({ id }) => id)]} held=${tray} onChoose=${setTray} words=${(/** @type {string} */ id) => (id === "" ? "left where it is" : labelOf(trays, id))} />
      <${ChooseAny} legend=${`Possible mothers, from who is in ${tank.label}`} options=${mothers.map(({ id }) => id)} held=${chosen} onChange=${setDams} words=${(/** @type {string} */ id) => labelOf(mothers, id)} />
      ${offered.since ? html`<p class="hint">Laid after the last search of the whole tank, ${since(offered.since, nursery.now(), zoneOf(nursery))}.</p>` : null}
      ${namesOf(here) === namesOf(offered.here) ? null : html`<p class="ask-again" role="status">Who is in the tank was put right meanwhile: now ${here.map((one) => one.label || lastOf(one.id)).join(", ") || "nobody"}. Go back and open this again to take that in.</p>`}
      ${mothers.length === 0 ? html`<p class="hint">No female is known to be in this tank: the mother is noted as unknown.</p>` : null}
      ${laid === "pair" ? html`<${Choose} legend="Why they are a pair" options=${PAIR_BASES} held=${basis} onChoose=${setBasis} />` : null}
      <button type="button" class="key-wide" disabled=${count >= FOUND_MAX} onClick=${() => setCount(count + 1)}>One case more</button>
      <${Sign} nursery=${nursery} kind="main" notes=${missing ? [] : collected(cases, find)} why=${missing} onSigned=${() => (nursery.tone("done"), anew(), back())} />
      <button type="button" class="key-wide" onClick=${() => (anew(), back())}>Back, sign nothing</button>
    </div>
  `;
}

const KeptFind = keptForm(Find, ({ tank }) => `collect/${tank.id}`);

/** @param {any[]} animals */
const namesOf = (animals) => animals.map(({ id }) => id).toSorted().join(" ");

/** A label as it stands on the case; what is longer is another kind of code. @param {string} text @param {(label: string) => void} take */
function labelRead(text, take) {
  const label = oneLine(text);
  if (label === "" || [...label].length > LABEL_MAX) return `${label.slice(0, 40)} is longer than a label can be.`;
  take(label);
  return null;
}

/** Where the newest case went, if that tray is still there. @param {any[]} eggs @param {any[]} trays */
function lastTray(eggs, trays) {
  const newest = eggs.filter((egg) => isOpen(egg) && trays.some(({ id }) => id === egg.place?.tank)).toSorted((a, b) => (a.came.time < b.came.time ? 1 : -1))[0];
  return newest?.place.tank ?? trays[0]?.id ?? "";
}
