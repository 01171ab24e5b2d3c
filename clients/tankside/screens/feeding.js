// Feeding: by tank, then by animal. One tap repeats the last feed of a tank; one tap an animal says
// what it ate. Offered and eaten are told apart; not seen is no refusal to eat.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { EATEN, TANK_EATEN, animalFed, eatenWords, foodWords, tankFed } from "./notes/animals.js";
import { FOOD_G_MAX, WORDS_MAX } from "./notes/note.js";
import { Caution, Choose, Fresh, Keys, Sign, TakeBack, Words, isBeyond, numberOf, useOnce } from "./parts/controls.js";
import { clock, since } from "./parts/days.js";
import { newestOf } from "./parts/laid-over.js";
import { isHere } from "./parts/open.js";
import { byLabel, inUse, isKnown, labelOf, lastOf, useAnimals, useItems, useTanks, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */
/** @import { Food } from "./notes/animals.js" */

/** @param {ScreenProps} props */
export default function Feeding({ nursery }) {
  useNursery(nursery);
  const tanks = useTanks(nursery);
  const animals = useAnimals(nursery);
  const foods = useItems(nursery, "/v1/foods");
  const [open, setOpen] = useState("");
  const zone = zoneOf(nursery);
  // Batches name what is fed: before they are known the words on a button would change by themselves.
  if (!isKnown(tanks, animals, foods)) return html`<${Fresh} read=${animals} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />`;
  const here = animals.items.filter(isHere);
  const fed = inUse(tanks.items).map((tank) => ({ tank, animals: here.filter((animal) => animal.place?.tank === tank.id).toSorted(byLabel) })).filter((one) => one.animals.length > 0);
  return html`
    <div class="hand">
      ${fed.map(({ tank, animals: own }) => html`<${Tank} key=${tank.id} nursery=${nursery} tank=${tank} animals=${own} foods=${foods.items} open=${open === tank.id} onOpen=${() => setOpen(open === tank.id ? "" : tank.id)} />`)}
      ${fed.length === 0 && tanks.reading ? html`<p>No animal is in any tank.</p>` : null}
      <${Caution}>Fingers stay out of reach of a mouth. What an animal may be fed, and treatment in food, are the veterinarian's and the institution's decision.<//>
      <${Fresh} read=${animals} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => labelOf([...animals.items, ...tanks.items], subject)} />
  `;
}

/** The last feed of the whole tank, here or as read. @param {any} tank @param {Nursery} nursery @param {any[]} batches */
function lastFeed(tank, nursery, batches) {
  const here = newestOf(nursery.notes, "tank.fed.v1", tank.id);
  const last = here ? { time: here.time, ...here.data } : tank.last_fed;
  if (!last) return null;
  const offered = /** @type {any} */ (last).offered.map((/** @type {any} */ one) => ({ food: one.food, amount_g: one.amount_g, pieces: one.pieces, batchId: one.from_batch, batch: one.from_batch ? labelOf(batches, one.from_batch) : undefined }));
  return { time: last.time, foods: /** @type {Food[]} */ (offered), eaten: /** @type {any} */ (last).eaten, here: here !== null };
}

/** @param {{nursery: Nursery, tank: any, animals: any[], foods: any[], open: boolean, onOpen: () => void}} props */
function Tank({ nursery, tank, animals, foods, open, onOpen }) {
  const last = lastFeed(tank, nursery, foods);
  const zone = zoneOf(nursery);
  return html`
    <article class="card">
      <header class="card-head"><h2>${tank.label}</h2><span class="hint">${animals.length} animals · ${last ? `fed ${since(last.time, nursery.now(), zone)}` : "no feed of the tank noted yet"}</span></header>
      <div class="two">
        ${last ? html`<${Sign} nursery=${nursery} kind="main" notes=${[tankFed({ tank: tank.id, label: tank.label, foods: last.foods, eaten: last.eaten, asLast: true })]} onSigned=${() => nursery.tone("done")} />` : null}
        <button type="button" class="key-wide" aria-expanded=${open} onClick=${onOpen}>${last ? "Otherwise, or one by one" : "Feed"}</button>
      </div>
      ${open ? html`<${OneByOne} nursery=${nursery} tank=${tank} animals=${animals} foods=${foods} last=${last} />` : null}
    </article>
  `;
}

/** @param {{nursery: Nursery, tank: any, animals: any[], foods: any[], last: {foods: Food[]}|null}} props */
function OneByOne({ nursery, tank, animals, foods, last }) {
  const choices = foodChoices(foods, last);
  // Held by what it is: the list is made anew whenever an answer comes.
  const [name, setName] = useState(choices[0] ? nameOf(choices[0]) : "");
  const food = choices.find((one) => nameOf(one) === name) ?? null;
  const [grams, setGrams] = useState(last?.foods[0]?.amount_g === undefined ? "" : String(last.foods[0].amount_g));
  const [other, setOther] = useState("");
  const [eaten, setEaten] = useState("");
  const held = food ?? (other.trim() ? { food: other.trim() } : null);
  const offered = held && !isBeyond(grams, FOOD_G_MAX) && { ...held, amount_g: numberOf(grams) };
  return html`
    <section>
      <${Choose} legend="Food and batch, the last first" options=${[...choices, null]} held=${food} onChoose=${(/** @type {Food|null} */ one) => setName(one ? nameOf(one) : "")} words=${(/** @type {Food|null} */ one) => (one ? foodWords({ ...one, amount_g: undefined, pieces: undefined }) : "another food")} />
      ${food === null ? html`<${Words} label="Which food" text=${other} onText=${setOther} most=${WORDS_MAX} />` : null}
      <${Keys} label="Offered, wet weight" unit="g" text=${grams} onText=${setGrams} most=${FOOD_G_MAX} />
      ${offered ? html`
        <${Choose} legend="To all in the tank together; eaten" options=${TANK_EATEN} held=${eaten} onChoose=${setEaten} words=${eatenWords} />
        <${Sign} nursery=${nursery} notes=${eaten ? [tankFed({ tank: tank.id, label: tank.label, foods: [offered], eaten })] : []} why="Say how much was eaten" onSigned=${() => setEaten("")} />
        <h3>Or one by one</h3>
        ${animals.map((animal) => html`<${Animal} key=${animal.id} nursery=${nursery} animal=${animal} food=${offered} />`)}` : html`<p class="hint">${held ? "The amount cannot be so." : "Choose the food first."}</p>`}
    </section>
  `;
}

/** @param {Food} food */
const nameOf = ({ food, batchId = "" }) => `${batchId} ${food}`;

/** Foods to choose from: the last fed here, then batches, the newest first. @param {any[]} batches @param {{foods: Food[]}|null} last @returns {Food[]} */
function foodChoices(batches, last) {
  const known = batches.filter(({ accepted }) => accepted !== false).toSorted((a, b) => (a.time < b.time ? 1 : -1)).map(({ id, label, food }) => ({ food, batch: label, batchId: id }));
  const all = [...(last?.foods ?? []).map(({ food, batch, batchId }) => ({ food, batch, batchId })), ...known];
  return all.filter((one, index) => all.findIndex((other) => other.food === one.food && other.batchId === one.batchId) === index).slice(0, 8);
}

/** @param {{nursery: Nursery, animal: any, food: Food}} props */
function Animal({ nursery, animal, food }) {
  const label = animal.label || lastOf(animal.id);
  const fed = animal.lastFedHere;
  const [trouble, setTrouble] = useState("");
  const once = useOnce();
  const tap = (/** @type {string} */ eaten) => once(async () => {
    const { type, data, saying } = animalFed({ animal: animal.id, label, food, eaten });
    try {
      await nursery.act(type, data, saying);
      nursery.tone("done");
      setTrouble("");
    } catch (error) {
      nursery.tone("no");
      setTrouble(error instanceof Error ? error.message : String(error));
    }
  });
  return html`
    <fieldset class="choose eaten">
      <legend><b>${label}</b> <span class="hint">${foodWords(food)}${fed ? ` · noted: ${eatenWords(fed.eaten)}` : ""}${animal.first_eaten ? "" : " · not seen to eat yet"}</span></legend>
      ${EATEN.map((eaten) => html`<button type="button" class="choice-key" aria-pressed=${fed?.eaten === eaten} onClick=${() => tap(eaten)}>${eatenWords(eaten)}</button>`)}
      ${trouble ? html`<p class="trouble" role="alert">${trouble}</p>` : null}
    </fieldset>
  `;
}
