// Found dead: who, last seen alive, apparent cause, photo, where the body is kept, who was told. A
// cause as determined comes only from a veterinarian or laboratory.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { BODIES, DEATHS_KNOWN, DEATH_CAUSES, died, hasPlace, photographed } from "./notes/animals.js";
import { REMARK_MAX, WORDS_MAX } from "./notes/note.js";
import { Caution, Choose, ChooseAny, Fresh, Sign, TakeBack, Words } from "./parts/controls.js";
import { clock, instant, moment, since } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { keyed } from "./parts/keyed.js";
import { isHere } from "./parts/open.js";
import { Photo } from "./parts/photo.js";
import { byLabel, labelOf, lastOf, useAnimals, useTanks, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

export default keyed(FoundDead);

const TOLD = /** @type {const} */ (["the veterinarian", "the curator", "the colleague on duty", "the authority, as the law asks"]);

/** @param {ScreenProps} props */
function FoundDead({ nursery, params }) {
  useNursery(nursery);
  const animals = useAnimals(nursery);
  const tanks = useTanks(nursery);
  const [chosen, setChosen] = useState(params.animal ? `animal/${params.animal}` : "");
  const here = animals.items.filter(isHere).toSorted(byLabel);
  const animal = here.find(({ id }) => id === chosen);
  return html`
    <div class="hand">
      ${animal ? html`<${KeptDeath} key=${chosen} nursery=${nursery} animal=${animal} tank=${labelOf(tanks.items, animal.place?.tank)} another=${() => setChosen("")} />` : html`
        <h2>Who?</h2>
        <div class="label-grid">${here.map((one) => html`<button type="button" class="label-key" onClick=${() => setChosen(one.id)}><b>${one.label || lastOf(one.id)}</b> <span>${labelOf(tanks.items, one.place?.tank)}</span></button>`)}</div>
        <${Fresh} read=${animals} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zoneOf(nursery))} />`}
    </div>
    <${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => labelOf(animals.items, subject)} />
  `;
}

/** @param {{nursery: Nursery, animal: any, tank: string, another: () => void, form: string, anew: () => void}} props */
function Death({ nursery, animal, tank, another, form, anew }) {
  const label = animal.label || lastOf(animal.id);
  const zone = zoneOf(nursery);
  const seen = animal.last_seen_alive?.time;
  const [how, setHow] = useKept(nursery, form, "how", "found dead");
  const [said, setSaid] = useKept(nursery, form, "said", "");
  const [cause, setCause] = useKept(nursery, form, "cause", "not determined");
  const [body, setBody] = useKept(nursery, form, "body", "");
  const [where, setWhere] = useKept(nursery, form, "where", "");
  const [told, setTold] = useKept(nursery, form, "told", /** @type {string[]} */ ([]));
  const [photo, setPhoto] = useKept(nursery, form, "photo", /** @type {import("../contracts.js").KeptPhoto|null} */ (null));
  const [remark, setRemark] = useKept(nursery, form, "remark", "");
  // Reckoned from the moment it was said: what is signed does not move while the rest is filled in.
  const [lastSeen, setLastSeen] = useKept(nursery, form, "lastSeen", /** @type {string|undefined} */ (undefined));
  const say = (/** @type {string} */ one) => (setSaid(one), setLastSeen(one === "" ? undefined : one === "record" ? seen : instant(nursery.now() - Number(one) * 3_600_000)));
  const missing = body === "" ? "Say how the body is kept" : hasPlace(body) && where.trim() === "" ? "Say where the body is kept" : null;
  const notes = missing ? [] : [...died({ animal: animal.id, label, how, lastSeen, cause, body, where: where.trim(), told: told.join(", "), remark }), ...(photo ? [photographed({ animal: animal.id, label, photo, side: "whole body", remark: "Photo of the body." })] : [])];
  return html`
    <header class="card-head"><h2>${label}</h2><button type="button" class="choice-key" onClick=${another}>Another animal</button></header>
    <p>${tank}${seen ? ` · the record saw it alive ${since(seen, nursery.now(), zone)}` : ""}</p>
    <${Choose} legend="How it is known" options=${DEATHS_KNOWN} held=${how} onChoose=${setHow} />
    <${Choose} legend="Last seen alive, by your own word" options=${["", "1", "12", "24", ...(seen ? ["record"] : [])]} held=${said} onChoose=${say} words=${(/** @type {string} */ one) => ({ "": "I cannot say", 1: "an hour ago", 12: "12 hours ago", 24: "a day ago", record: "as the record has it" })[one]} />
    ${lastSeen ? html`<p class="hint">Last seen alive ${moment(lastSeen, zone)}.</p>` : null}
    <${Choose} legend="Apparent cause, as a keeper can see it" options=${DEATH_CAUSES} held=${cause} onChoose=${setCause} />
    <${Photo} nursery=${nursery} photo=${photo} onKept=${setPhoto} />
    <${Choose} legend="The body" options=${BODIES} held=${body} onChoose=${setBody} />
    ${hasPlace(body) ? html`<${Words} label="Where it is kept" text=${where} onText=${setWhere} most=${WORDS_MAX} />` : null}
    <${ChooseAny} legend="Who was told" options=${TOLD} held=${told} onChange=${setTold} />
    <${Words} label="In words" text=${remark} onText=${setRemark} most=${REMARK_MAX} lines=${2} />
    <${Sign} nursery=${nursery} kind="main" notes=${notes} why=${missing} onSigned=${() => (nursery.tone("loss"), anew(), another())} />
    <${Caution}>The licensed veterinarian and the institution's process decide what is done. Body, reporting and disposal follow local law. Gloves; spines stay sharp.<//>
  `;
}

const KeptDeath = keptForm(Death, ({ animal }) => `dead/${animal.id}`);
