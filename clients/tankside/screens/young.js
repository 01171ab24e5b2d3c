// Young: weighed, measured, photographed, moved, put together with others.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery, useReading } from "../shell/hooks.js";
import { BODY_SIDES, PURPOSES, SIGNS, WENT, introduced, measured, moved, observed, photographed } from "./notes/animals.js";
import { LENGTH_CM_MAX, MASS_G_MAX } from "./notes/note.js";
import { Caution, Choose, ChooseAny, Fresh, Keys, Sign, TakeBack, isBeyond, numberOf } from "./parts/controls.js";
import { clock, since } from "./parts/days.js";
import { keyed } from "./parts/keyed.js";
import { isHere } from "./parts/open.js";
import { Photo } from "./parts/photo.js";
import { byLabel, inUse, isKnown, labelOf, lastOf, useAnimals, useItems, useTanks, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

export default keyed(Young);

/** @param {ScreenProps} props */
function Young({ nursery, params }) {
  useNursery(nursery);
  const animals = useAnimals(nursery);
  const tanks = useTanks(nursery);
  const species = useItems(nursery, "/v1/species");
  const policy = useReading(nursery, "/v1/collection").reading?.body?.policy;
  const [chosen, setChosen] = useState(params.animal ? `animal/${params.animal}` : "");
  const [doing, setDoing] = useState("mass");
  const zone = zoneOf(nursery);
  const here = animals.items.filter(isHere).toSorted(byLabel);
  const animal = here.find(({ id }) => id === chosen);
  const used = inUse(tanks.items);
  if (!animal) {
    return html`<div class="hand">
      ${used.map((tank) => {
        const own = here.filter(({ place }) => place?.tank === tank.id);
        return own.length === 0 ? null : html`<section><h2>${tank.label}</h2><div class="label-grid">${own.map((one) => html`<button type="button" class="label-key" onClick=${() => setChosen(one.id)}><b>${one.label || lastOf(one.id)}</b> <span>${newest(one)}</span></button>`)}</div></section>`;
      })}
      ${here.length === 0 && animals.reading ? html`<p>No animal is here.</p>` : null}
      <${Fresh} read=${animals} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div><${TakeBack} nursery=${nursery} />`;
  }
  const label = animal.label || lastOf(animal.id);
  const rest = { nursery, animal, label };
  return html`
    <div class="hand">
      <header class="card-head"><h2>${label}</h2><button type="button" class="choice-key" onClick=${() => setChosen("")}>Another animal</button></header>
      <p>${labelOf(used, animal.place?.tank)} · ${animal.sex === "unknown" ? "sex not known yet" : animal.sex} · ${animal.last_eaten ? `last seen to eat ${since(animal.last_eaten.time, nursery.now(), zone)}` : "not seen to eat yet"}</p>
      <${Choose} legend="What" hidden=${true} options=${["mass", "length", "photo", "move", "seen"]} held=${doing} onChoose=${setDoing} words=${(/** @type {string} */ one) => ({ mass: "weigh", length: "measure", photo: "photograph", move: "move", seen: "as seen" })[one]} />
      ${doing === "mass" ? html`<${Weigh} ...${rest} percent=${policy?.mass_loss_percent_max ?? 10} />` : null}
      ${doing === "length" && !isKnown(species) ? html`<p role="status">Reading how this species is measured …</p>` : null}
      ${doing === "length" && isKnown(species) ? html`<${Measure} ...${rest} basis=${species.items.find(({ id }) => id === animal.species)?.length_basis ?? "total"} />` : null}
      ${doing === "photo" ? html`<${Picture} ...${rest} />` : null}
      ${doing === "move" ? html`<${Move} ...${rest} tanks=${used} others=${here} />` : null}
      ${doing === "seen" ? html`<${Seen} ...${rest} />` : null}
      <p><a class="quiet-link" href=${`#/as-known/${animal.id}`}>Its whole history</a> <a class="quiet-link" href=${`#/dead/${animal.id}`}>Found dead</a></p>
      <${Caution}>Handle no longer than needed, wet and supported. Anaesthesia is the veterinarian's decision.<//>
    </div>
    <${TakeBack} nursery=${nursery} name=${() => label} />
  `;
}

/** @param {any} animal */
function newest({ measures }) {
  const mass = measures.findLast((/** @type {any} */ one) => one.mass_g !== undefined)?.mass_g;
  return mass === undefined ? "not weighed yet" : `${mass} g`;
}

/** @typedef {{nursery: Nursery, animal: any, label: string}} OfAnimal */

/** @param {OfAnimal & {percent: number}} props */
function Weigh({ nursery, animal, label, percent }) {
  const [text, setText] = useState("");
  const before = animal.measures.findLast((/** @type {any} */ one) => one.mass_g !== undefined);
  const [how, setHow] = useState(before?.mass_how ?? "drained");
  const mass = numberOf(text);
  const less = before && mass !== undefined ? (1 - mass / before.mass_g) * 100 : 0;
  return html`
    <p class="last-value">Last: <b>${before ? `${before.mass_g} g` : "none"}</b>${before ? ` ${before.mass_how ?? ""}, ${since(before.time, nursery.now(), zoneOf(nursery))}` : ""}</p>
    <${Choose} legend="Weighed" options=${["drained", "in water"]} held=${how} onChoose=${setHow} />
    <${Keys} label="Mass" unit="g" text=${text} onText=${setText} most=${MASS_G_MAX} />
    ${less > percent ? html`<p class="ask-again" role="status">${less.toFixed(0)} % less than last time; the house asks for a person above ${percent} %. Weigh once more; tell the veterinarian. It can be signed all the same.</p>` : null}
    <${Sign} nursery=${nursery} kind="main" notes=${mass === undefined || isBeyond(text, MASS_G_MAX) ? [] : [measured({ animal: animal.id, label, mass_g: mass, massHow: how })]} why="Read the balance" onSigned=${() => setText("")} />
  `;
}

/** @param {OfAnimal & {basis: string}} props */
function Measure({ nursery, animal, label, basis }) {
  const [text, setText] = useState("");
  const [how, setHow] = useState("measured");
  const length = numberOf(text);
  const before = animal.measures.findLast((/** @type {any} */ one) => one.length_cm !== undefined);
  return html`
    <p class="last-value">Last: <b>${before ? `${before.length_cm} cm` : "none"}</b>${before ? ` ${since(before.time, nursery.now(), zoneOf(nursery))}` : ""}</p>
    <${Choose} legend=${`Length, ${basis === "disc width" ? "wing tip to wing tip" : "snout to tail tip"}`} options=${["measured", "from a photo"]} held=${how} onChoose=${setHow} />
    <${Keys} label=${`Length, ${basis}`} unit="cm" text=${text} onText=${setText} most=${LENGTH_CM_MAX} />
    <${Sign} nursery=${nursery} kind="main" notes=${length === undefined || isBeyond(text, LENGTH_CM_MAX) ? [] : [measured({ animal: animal.id, label, length_cm: length, basis, lengthHow: how })]} why="Read the length" onSigned=${() => setText("")} />
  `;
}

/** @param {OfAnimal} props */
function Picture({ nursery, animal, label }) {
  const [photo, setPhoto] = useState(/** @type {import("../contracts.js").KeptPhoto|null} */ (null));
  const [side, setSide] = useState("");
  const notes = photo && side ? [photographed({ animal: animal.id, label, photo, side })] : [];
  return html`
    <${Photo} nursery=${nursery} photo=${photo} onKept=${setPhoto} />
    <${Choose} legend="Which side, head forward" options=${BODY_SIDES} held=${side} onChoose=${setSide} />
    <${Sign} nursery=${nursery} kind="main" notes=${notes} why="Take a photo and say which side" onSigned=${() => setPhoto(null)} />
  `;
}

/** @param {OfAnimal & {tanks: any[], others: any[]}} props */
function Move({ nursery, animal, label, tanks, others }) {
  const [to, setTo] = useState("");
  const [purpose, setPurpose] = useState("rearing");
  const [went, setWent] = useState("");
  const from = animal.place?.tank;
  const there = others.filter(({ place, id }) => place?.tank === to && id !== animal.id);
  const toLabel = labelOf(tanks, to);
  const quarantine = tanks.find(({ id }) => id === from)?.quarantine;
  const move = to ? [moved({ animal: animal.id, label, from, to, toLabel, group: animal.id })] : [];
  const met = to && there.length > 0 && went ? [introduced({ animal: animal.id, label, to, toLabel, with: there.map(({ id }) => id), purpose, went, group: animal.id })] : [];
  return html`
    ${quarantine ? html`<p class="ask-again">Its tank is under quarantine. A move before the veterinarian's clearance is shown as a discrepancy.</p>` : null}
    <${Choose} legend="To which tank" options=${tanks.filter(({ id, purpose: own }) => id !== from && own !== "incubation").map(({ id }) => id)} held=${to} onChoose=${setTo} words=${(/** @type {string} */ id) => labelOf(tanks, id)} />
    ${to ? html`<p>Already there: <b>${there.length === 0 ? "nobody" : there.map((one) => one.label || lastOf(one.id)).join(", ")}</b></p>` : null}
    ${there.length > 0 ? html`
      <${Choose} legend="What for" options=${PURPOSES} held=${purpose} onChoose=${setPurpose} />
      <${Choose} legend="What was seen when they met" options=${WENT} held=${went} onChoose=${setWent} />` : null}
    <${Sign} nursery=${nursery} kind="main" notes=${there.length > 0 && !went ? [] : [...move, ...met]} why=${to ? "Say what was seen when they met" : "Choose the tank"} onSigned=${() => (setTo(""), setWent(""))} />
    <${Caution}>Water of the same temperature; own tools, from clean to quarantine. Some bite and some carry fin spines.<//>
  `;
}

/** @param {OfAnimal} props */
function Seen({ nursery, animal, label }) {
  const [signs, setSigns] = useState(/** @type {string[]} */ ([]));
  return html`
    <${ChooseAny} legend="Signs, as seen from outside the water; none: as usual" options=${SIGNS} held=${signs} onChange=${setSigns} />
    <${Sign} nursery=${nursery} kind="main" notes=${[observed({ animal: animal.id, label, signs, tank: animal.place?.tank })]} onSigned=${() => setSigns([])} />
    ${signs.length > 0 ? html`<${Caution}>Signs, not diagnoses: tell the veterinarian what was seen.<//>` : null}
  `;
}
