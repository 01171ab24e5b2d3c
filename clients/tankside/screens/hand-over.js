// Hand-over: what the next person must know, gathered from the record, and read by name.

import { html } from "../html.js";
import { useNursery, useReading } from "../shell/hooks.js";
import { counted } from "../look/drawings/ink.js";
import { endorsed, handedOver } from "./notes/house.js";
import { MATTERS_MAX, REMARK_MAX, WORDS_MAX, cut, linesOf } from "./notes/note.js";
import { Choose, ChooseAny, Fresh, Sign, Words } from "./parts/controls.js";
import { clock, since } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { isHere, isOpen } from "./parts/open.js";
import { carers, isKnown, lastOf, nameOf, useAnimals, useEggs, useItems, usePeople, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

/** @param {ScreenProps} props */
export default function HandOver({ nursery }) {
  useNursery(nursery);
  const duty = useItems(nursery, "/v1/duty");
  const people = usePeople(nursery);
  const last = duty.items[0];
  const zone = zoneOf(nursery);
  const names = (/** @type {string|undefined} */ person) => nameOf(nursery, people.items, person);
  return html`
    <div class="hand">
      ${last ? html`<${Read} nursery=${nursery} last=${last} from=${names(last.from)} to=${names(last.to)} />` : duty.reading ? html`<p>Nothing was handed over yet.</p>` : null}
      <${KeptWrite} nursery=${nursery} people=${people.items} names=${names} />
      <${Fresh} read=${duty} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
  `;
}

/** The newest hand-over; reading it is a signature beside it. @param {{nursery: Nursery, last: any, from: string, to: string}} props */
function Read({ nursery, last, from, to }) {
  const { reading } = useReading(nursery, `/v1/events/${last.event}`);
  const { reading: told } = useReading(nursery, "/v1/collection/history");
  const event = reading?.body?.item;
  const signed = told?.body?.notes?.find((/** @type {any} */ note) => note.id === last.event)?.endorsed_by ?? [];
  const here = event && nursery.notes.some(({ type, data, state }) => type === "record.endorsed.v1" && data.seq === event.seq && state !== "refused");
  const mine = nursery.person?.person === last.to;
  const note = event ? [endorsed({ subject: "collection", seq: event.seq, bodySha256: event.body_sha256, words: [`Read by ${nursery.person?.name ?? "me"}`, counted(last.matters.length, "matter"), "signed beside the hand-over"] })] : [];
  const read = here || signed.length > 0;
  return html`
    <article class="card">
      <header class="card-head"><h2>From ${from} to ${to}</h2><span class="hint">${since(last.time, nursery.now(), zoneOf(nursery))}</span></header>
      ${last.matters.length === 0 ? html`<p>Nothing out of the ordinary.</p>` : html`<ul class="plain-list">${last.matters.map((/** @type {any} */ matter) => html`<li>${matter.words}</li>`)}</ul>`}
      ${read ? html`<p>Read and signed.</p>` : mine ? html`<${Sign} nursery=${nursery} kind="main" notes=${note} why="The note itself is not on this device yet" onSigned=${() => nursery.tone("done")} />` : html`<p class="hint">${to} signs that it was read.</p>`}
    </article>
  `;
}

/** @param {{nursery: Nursery, people: any[], names: (person: string|undefined) => string, form: string, anew: () => void}} props */
function Write({ nursery, people, names, form, anew }) {
  const eggs = useEggs(nursery);
  const animals = useAnimals(nursery);
  const systems = useItems(nursery, "/v1/systems");
  const incidents = useItems(nursery, "/v1/incidents");
  const found = [
    ...eggs.items.filter((egg) => isOpen(egg) && egg.held_apart).map((egg) => ({ words: `${egg.label} is held apart (${egg.held_apart.reason}): look again`, about: egg.id })),
    ...animals.items.filter((animal) => isHere(animal) && animal.feeds > 0 && !animal.first_eaten).map((animal) => ({ words: `${animal.label || lastOf(animal.id)} was not seen to eat yet`, about: animal.id })),
    ...systems.items.flatMap((system) => (system.open_faults ?? []).map((/** @type {any} */ fault) => ({ words: `${system.label}: ${fault.equipment} failed and is not said to work again`, about: system.id }))),
    ...incidents.items.filter(({ closed }) => !closed).map((incident) => ({ words: `${incident.what}, not finished: ${incident.summary}`, about: incident.id })),
  ].map(({ words, about }) => ({ words: cut(words, WORDS_MAX), about }));
  const [left, setLeft] = useKept(nursery, form, "left", /** @type {string[]} */ ([]));
  const [own, setOwn] = useKept(nursery, form, "own", "");
  const [to, setTo] = useKept(nursery, form, "to", "");
  if (!isKnown(eggs, animals, systems, incidents)) return html`<section><h2>Hand over</h2><p role="status">Reading what is open …</p></section>`;
  const blind = [["cases", eggs], ["animals", animals], ["water and equipment", systems], ["incidents", incidents]].flatMap(([name, read]) => (/** @type {any} */ (read).reading ? [] : [name]));
  const others = carers(people).filter(({ person }) => person !== nursery.person?.person);
  const matters = [...found.filter(({ words }) => !left.includes(words)), ...linesOf(own).map((words) => ({ words }))];
  const many = matters.length > MATTERS_MAX;
  return html`
    <section>
      <h2>Hand over</h2>
      ${blind.length > 0 ? html`<p class="ask-again" role="status">Not known on this device: ${blind.join(", ")}. What is open there is not in the list.</p>` : null}
      <${ChooseAny} kind="lines" legend=${found.length > 0 ? "What the record knows to be open; tap what need not be told" : "The record knows of nothing that is open"} options=${found.map(({ words }) => words)} held=${found.filter(({ words }) => !left.includes(words)).map(({ words }) => words)} onChange=${(/** @type {string[]} */ kept) => setLeft(found.map(({ words }) => words).filter((words) => !kept.includes(words)))} />
      <${Words} label="What else" hint="one line a matter; no names, nothing private" text=${own} onText=${setOwn} most=${REMARK_MAX} lines=${3} />
      ${many ? html`<p class="ask-again" role="alert">${matters.length} matters, and one hand-over holds ${MATTERS_MAX}: tap what need not be told, or join lines.</p>` : null}
      <${Choose} legend="To" options=${others.map(({ person }) => person)} held=${to} onChoose=${setTo} words=${names} />
      <${Sign} nursery=${nursery} kind="main" notes=${to && !many ? [handedOver({ to, toName: names(to), matters })] : []} why=${many ? "Fewer matters" : "Choose who takes over"} onSigned=${() => (anew(), nursery.tone("done"))} />
    </section>
  `;
}

const KeptWrite = keptForm(Write, () => "hand-over");
