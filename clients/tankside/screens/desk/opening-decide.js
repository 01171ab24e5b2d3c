// Deciding an opening: curator and veterinarian, both. Reasons against are named in the same note as
// the criteria. It says who may, never how, and never that the law allows it.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { assessedWords, isSettled, useAssessed } from "./assessed.js";
import { AGAINST, EXTENTS, openingAuthorised } from "../notes/eggs.js";
import { Caution, Choose, ChooseAny, Sign } from "../parts/controls.js";
import { instant, moment } from "../parts/days.js";
import { lastOf, usePeople, zoneOf } from "../parts/reading.js";

/** @import { Nursery } from "../../contracts.js" */

const HOUR_MS = 3_600_000;
const DECIDING = ["veterinarian", "curator"];

/** @param {{nursery: Nursery, egg: any, path: string, reading: import("../../contracts.js").Reading|null}} props */
export function Decide({ nursery, egg, path, reading }) {
  const { begun, begin, end } = useAssessed(nursery, path, reading);
  if (!nursery.person?.roles.some((role) => DECIDING.includes(role))) return html`<p class="hint">An opening is decided by a veterinarian and a curator, each on their own key.</p>`;
  return html`
    <section>
      <button type="button" class="key-wide" aria-expanded=${begun !== null} onClick=${() => (begun ? end() : begin())}>Decide together whether it may be opened</button>
      ${begun && !begun.told && !begun.why ? html`<p role="status">Reading what the record says …</p>` : null}
      ${begun && (begun.told || begun.why) ? html`<${Decision} nursery=${nursery} egg=${egg} begun=${begun} end=${end} />` : null}
    </section>
  `;
}

/** @param {{nursery: Nursery, egg: any, begun: import("./assessed.js").Begun, end: () => void}} props */
function Decision({ nursery, egg, begun, end }) {
  const { told } = begun;
  const people = usePeople(nursery).items;
  const [criteria, setCriteria] = useState(/** @type {string[]} */ ([]));
  const [persons, setPersons] = useState(/** @type {string[]} */ ([]));
  const [extents, setExtents] = useState(/** @type {string[]} */ ([]));
  const [against, setAgainst] = useState(() => /** @type {string[]} */ ((told?.against ?? []).filter((/** @type {any} */ one) => one.holds === "yes" && AGAINST.includes(one.what)).map((/** @type {any} */ one) => one.what)));
  const [hours, setHours] = useState(24);
  const [from] = useState(() => nursery.now());
  const offered = /** @type {string[]} */ ((told?.criteria ?? []).map((/** @type {any} */ one) => one.what));
  const name = (/** @type {string} */ person) => people.find((one) => one.person === person)?.name ?? lastOf(person);
  const keepers = people.filter(({ roles }) => roles.some((/** @type {string} */ role) => ["keeper", "veterinarian", "curator"].includes(role))).map(({ person }) => person);
  const until = from + hours * HOUR_MS;
  const zone = zoneOf(nursery);
  const complete = isSettled(begun) && criteria.length > 0 && persons.length > 0;
  const notes = complete ? [openingAuthorised({ egg: egg.id, criteria, persons, from: instant(from), to: instant(until), extents, against, days: `${moment(from, zone)} to ${moment(until, zone)}`, names: persons.map(name), assessment: begun.kept, assessed: assessedWords(begun) })] : [];
  return html`
    <${Caution}>The licensed veterinarian and the institution's animal-welfare process decide; local law and permits apply. Nothing here says that an opening is allowed.<//>
    <${ChooseAny} legend="What must be met at the time" options=${offered} held=${criteria} onChange=${setCriteria} />
    ${offered.length === 0 ? html`<p>The house's criteria are not known here.</p>` : null}
    ${told ? html`<${ChooseAny} legend="Reasons against, weighed and named" options=${AGAINST} held=${against} onChange=${setAgainst} />` : null}
    <${ChooseAny} legend="Who may" options=${keepers} held=${persons} onChange=${setPersons} words=${name} />
    <${ChooseAny} legend="No further than" options=${EXTENTS} held=${extents} onChange=${setExtents} />
    <${Choose} legend="For how long" options=${[24, 72, 168]} held=${hours} onChoose=${setHours} words=${(/** @type {number} */ one) => (one < 168 ? `${one} h` : "a week")} />
    ${begun.why ? html`<p class="ask-again" role="status">The note carries no assessment: ${begun.why}.</p>` : null}
    <${Sign} nursery=${nursery} kind="main" notes=${notes} why=${isSettled(begun) ? "Say what must be met, and who may" : "Reading what the record says …"} onSigned=${end} />
  `;
}
