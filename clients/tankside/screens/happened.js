// Something happened: people first. What, since when, which tanks, who was told; it can be finished
// later. Whom to call is on the device, off line too.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { EFFECTS, EQUIPMENT, INCIDENTS, equipmentFaulted, incidentClosed, incidentNoted, incidentOpened } from "./notes/house.js";
import { WORDS_MAX } from "./notes/note.js";
import { Caution, Choose, ChooseAny, Fresh, Sign, Words } from "./parts/controls.js";
import { clock, day, instant, moment, since } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { byLabel, inUse, labelOf, useItems, usePeople, useTanks, zoneOf } from "./parts/reading.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */

const AGO = /** @type {const} */ ([0, 15, 60, 240, 720]);
const LATE_MINUTES = 15;

/** @param {ScreenProps} props */
export default function Happened({ nursery }) {
  useNursery(nursery);
  const incidents = useItems(nursery, "/v1/incidents");
  const tanks = useTanks(nursery);
  const systems = useItems(nursery, "/v1/systems");
  const people = usePeople(nursery);
  const zone = zoneOf(nursery);
  const open = incidents.items.filter(({ closed }) => !closed);
  return html`
    <div class="hand">
      <${Caution}>People first. Power off before hands go in. Wounds from sea water are seen early. Keep cases under water.<//>
      <${Contacts} people=${people.items} />
      ${open.map((incident) => html`<${KeptOpen} key=${incident.id} nursery=${nursery} incident=${incident} />`)}
      <${KeptNew} nursery=${nursery} tanks=${inUse(tanks.items)} systems=${systems.items} />
      <${Fault} nursery=${nursery} systems=${systems.items} tanks=${inUse(tanks.items)} />
      <${Fresh} read=${incidents} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zone)} />
    </div>
  `;
}

/** Who may decide, by name, as this device last heard. Numbers are the house's own list. @param {{people: any[]}} props */
function Contacts({ people }) {
  const deciding = people.filter(({ roles }) => roles.some((/** @type {string} */ role) => ["veterinarian", "curator", "registrar"].includes(role)));
  if (deciding.length === 0) return null;
  return html`<section class="card"><h2>Whom to tell</h2><ul class="plain-list">${deciding.map(({ name, person, roles }) => html`<li><b>${name ?? person.slice(-5)}</b> ${roles.filter((/** @type {string} */ role) => role !== "root").join(", ")}</li>`)}</ul><p class="hint">Telephone numbers are on the house's own list; this record keeps none.</p></section>`;
}

/** @param {{nursery: Nursery, tanks: any[], systems: any[], form: string, anew: () => void}} props */
function New({ nursery, tanks, systems, form, anew }) {
  const [what, setWhat] = useKept(nursery, form, "what", "");
  const [about, setAbout] = useKept(nursery, form, "about", /** @type {string[]} */ ([]));
  // When it was tapped; how long ago it began is reckoned from then.
  const [tapped, setTapped] = useKept(nursery, form, "tapped", 0);
  const [ago, setAgo] = useKept(nursery, form, "ago", 0);
  const [summary, setSummary] = useKept(nursery, form, "summary", "");
  const [told, setTold] = useKept(nursery, form, "told", "");
  const [incident] = useState(() => nursery.newSubject("incident"));
  const zone = zoneOf(nursery);
  const time = instant(tapped - ago * 60_000);
  // A minute before it is late: filling in the rest takes time too.
  const late = nursery.now() - tapped + ago * 60_000 >= (LATE_MINUTES - 1) * 60_000 ? "hands were needed first" : undefined;
  const label = `${day(tapped, zone)}, ${clock(tapped, zone)}`;
  const choose = (/** @type {string} */ one) => (setWhat(one), setTapped(nursery.now()));
  const notes = what ? [incidentOpened({ incident, label, what, summary: summary.trim() || what, about, told: told.trim() || undefined, time, late })] : [];
  const signed = () => (anew(), nursery.tone("done"));
  const places = [...systems.toSorted(byLabel), ...tanks];
  return html`
    <section>
      <${Choose} legend="What happened" options=${INCIDENTS} held=${what} onChoose=${choose} />
      ${what ? html`
        <${Choose} legend="Since when" options=${AGO} held=${ago} onChoose=${setAgo} words=${(/** @type {number} */ minutes) => (minutes === 0 ? "just now" : `${minutes < 60 ? `${minutes} minutes` : `${minutes / 60} h`} ago`)} />
        <p class="hint">Its label: ${label}. It began ${moment(time, zone)}${late ? "; noted afterwards, for hands were needed first" : ""}.</p>
        <${ChooseAny} legend="Where" options=${places.map(({ id }) => id)} held=${about} onChange=${setAbout} words=${(/** @type {string} */ id) => labelOf(places, id)} />
        <${Words} label="In one line" hint="may stay empty now" text=${summary} onText=${setSummary} most=${WORDS_MAX} />
        <${Words} label="Who was told" text=${told} onText=${setTold} most=${WORDS_MAX} />
        ${what === "person hurt" ? html`<p class="ask-again">Only that somebody was hurt, and that it was reported. Nobody's name or health is written here.</p>` : null}` : null}
      <${Sign} nursery=${nursery} kind="main" notes=${notes} why="Choose what happened" onSigned=${signed} />
    </section>
  `;
}

const KeptNew = keptForm(New, () => "happened");

/** @param {{nursery: Nursery, incident: any, form: string, anew: () => void}} props */
function Open({ nursery, incident, form, anew }) {
  const [words, setWords] = useKept(nursery, form, "words", "");
  const [cause, setCause] = useKept(nursery, form, "cause", "");
  const [ending, setEnding] = useKept(nursery, form, "ending", false);
  const text = words.trim();
  const notes = text === "" ? [] : [ending ? incidentClosed({ incident: incident.id, outcome: text, cause: cause.trim() || undefined }) : incidentNoted({ incident: incident.id, words: text })];
  return html`
    <article class="card">
      <header class="card-head"><h2>${incident.what}, not finished</h2><span class="hint">${since(incident.time, nursery.now(), zoneOf(nursery))}</span></header>
      <p>${incident.summary}</p>
      ${incident.notes.map((/** @type {any} */ note) => html`<p class="hint">${clock(note.time, zoneOf(nursery))} ${note.words}</p>`)}
      <${Choose} legend="Go on" hidden=${true} options=${[false, true]} held=${ending} onChoose=${setEnding} words=${(/** @type {boolean} */ end) => (end ? "it is over" : "something more")} />
      <${Words} label=${ending ? "How it ended" : "What was seen, done or learned"} text=${words} onText=${setWords} most=${WORDS_MAX} />
      ${ending ? html`<${Words} label="What it came from, as far as is known" text=${cause} onText=${setCause} most=${WORDS_MAX} />` : null}
      <${Sign} nursery=${nursery} notes=${notes} why="Say it in words" onSigned=${anew} />
    </article>
  `;
}

const KeptOpen = keptForm(Open, ({ incident }) => `incident/${incident.id}`);

/** @param {{nursery: Nursery, systems: any[], tanks: any[]}} props */
function Fault({ nursery, systems, tanks }) {
  const [open, setOpen] = useState(false);
  const [where, setWhere] = useState("");
  const [equipment, setEquipment] = useState("");
  const [effects, setEffects] = useState(/** @type {string[]} */ ([]));
  const places = [...systems.toSorted(byLabel), ...tanks];
  const notes = where && equipment ? [equipmentFaulted({ subject: where, label: labelOf(places, where), equipment, effects })] : [];
  return html`
    <button type="button" class="key-wide" aria-expanded=${open} onClick=${() => setOpen(!open)}>Only equipment failed</button>
    ${open ? html`<section class="card">
      <${Choose} legend="Which" options=${EQUIPMENT} held=${equipment} onChoose=${setEquipment} />
      <${Choose} legend="Where" options=${places.map(({ id }) => id)} held=${where} onChoose=${setWhere} words=${(/** @type {string} */ id) => labelOf(places, id)} />
      <${ChooseAny} legend="What it does" options=${EFFECTS} held=${effects} onChange=${setEffects} />
      <${Sign} nursery=${nursery} notes=${notes} why="Choose which and where" onSigned=${() => setOpen(false)} />
    </section>` : null}
  `;
}
