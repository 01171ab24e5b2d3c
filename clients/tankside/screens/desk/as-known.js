// As known on …: two sliders over a history. One says when things happened, the other what the log
// knew. Notes stand in the order of becoming known; what was not yet known is faint and says so.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { useNursery, useReading } from "../../shell/hooks.js";
import { counted } from "../../look/drawings/ink.js";
import { Strip } from "../case.js";
import { Fresh } from "../parts/controls.js";
import { clock, day, moment, ms } from "../parts/days.js";
import { ShownPhoto } from "../parts/photo.js";
import { byLabel, lastOf, nameOf, shapeOf, useAnimals, useEggs, useItems, usePeople, useTanks, zoneOf } from "../parts/reading.js";
import { Endorse } from "./endorse.js";
import { PutRight } from "./put-right.js";
import { memberWords, tellNote } from "./telling.js";
import { proofOf, takenAway, viewAt } from "./two-clocks.js";

/** @import { Nursery, ScreenProps } from "../../contracts.js" */

/** @param {ScreenProps} props */
export default function AsKnown({ nursery, params }) {
  useNursery(nursery);
  const { noun, id } = params;
  return noun && id ? html`<${History} key=${id} nursery=${nursery} subject=${`${noun}/${id}`} />` : html`<${Choosing} nursery=${nursery} />`;
}

/** @param {{nursery: Nursery}} props */
function Choosing({ nursery }) {
  const eggs = useEggs(nursery);
  const animals = useAnimals(nursery);
  return html`
    <div class="desk">
      <section><h2>Whose history? Animals</h2><div class="label-grid">${animals.items.toSorted(byLabel).map((one) => html`<a class="label-key" href=${`#/as-known/${one.id}`}><b>${one.label || lastOf(one.id)}</b></a>`)}</div></section>
      <section><h2>Cases</h2><div class="label-grid">${eggs.items.toSorted(byLabel).map((one) => html`<a class="label-key" href=${`#/as-known/${one.id}`}><b>${one.label}</b></a>`)}</div></section>
      <${Fresh} read=${eggs} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zoneOf(nursery))} />
    </div>
  `;
}

/** @param {{nursery: Nursery, subject: string}} props */
function History({ nursery, subject }) {
  const [noun = "", id = ""] = subject.split("/");
  const { reading, trouble } = useReading(nursery, `/v1/${noun}s/${id}/history`);
  const eggs = useEggs(nursery);
  const animals = useAnimals(nursery);
  const species = useItems(nursery, "/v1/species");
  const tanks = useTanks(nursery);
  const people = usePeople(nursery);
  if (!reading) return html`<p>${trouble ? `Not known here: ${trouble}` : "Reading …"}</p>`;
  const thing = [...eggs.items, ...animals.items].find((one) => one.id === subject);
  const names = (/** @type {string|undefined} */ person) => nameOf(nursery, people.items, person);
  const isTrainee = (/** @type {string|undefined} */ person) => people.items.find((one) => one.person === person)?.roles.includes("trainee") === true;
  const labelled = (/** @type {string} */ id) => (id.startsWith("person/") ? names(id) : [...eggs.items, ...animals.items, ...tanks.items].find((one) => one.id === id)?.label || species.items.find((one) => one.id === id)?.common_name);
  return html`<${Sliders} nursery=${nursery} body=${reading.body} label=${thing?.label || lastOf(subject)} shape=${shapeOf(species.items, thing?.species)} names=${names} labelled=${labelled} isTrainee=${isTrainee} />`;
}

/** @param {{nursery: Nursery, body: any, label: string, shape?: string, names: (person?: string) => string, labelled: (id: string) => string|undefined, isTrainee: (person?: string) => boolean}} props */
function Sliders({ nursery, body, label, shape, names, labelled, isTrainee }) {
  const zone = zoneOf(nursery);
  const notes = /** @type {any[]} */ (body.notes ?? []);
  const times = [...new Set(notes.map(({ time }) => ms(time)))].sort((a, b) => a - b);
  const sizes = [...new Set(notes.flatMap(({ seq, acts_told = [] }) => [seq + 1, ...acts_told.map((/** @type {any} */ act) => act.seq + 1)]))].sort((a, b) => a - b);
  // Nobody has moved them: the newest, also when an answer arrives that knows more.
  const [movedTime, setHappened] = useState(/** @type {number|null} */ (null));
  const [movedSize, setKnown] = useState(/** @type {number|null} */ (null));
  const [happened, known] = [movedTime ?? times.length - 1, movedSize ?? sizes.length - 1];
  const [before, setBefore] = useState(/** @type {number|null} */ (null));
  if (notes.length === 0) return html`<p>No note names it.</p>`;
  const at = { time_ms: times[happened] ?? 0, size: sizes[known] ?? 0 };
  const seen = viewAt(notes, at);
  const looks = seen.filter(({ note }) => note.kind === "egg.candled.v1" || note.kind === "egg.examined.v1").toSorted((a, b) => ms(a.note.time) - ms(b.note.time)).map((one) => ({ ...one.data, day: day(one.note.time, zone), proof: proofOf(one) }));
  const later = seen.filter(({ known: is }) => !is).length;
  const when = knownWhen(notes, at.size);
  const file = () => save(`${label}-as-known-at-${at.size}.json`, JSON.stringify(takenAway(body, at, label), null, 2));
  return html`
    <div class="desk">
      <h2 class="case-label">${label}</h2>
      <div class="columns">
        <label class="slider"><span>What had happened by <b>${moment(at.time_ms, zone)}</b></span><input type="range" min="0" max=${times.length - 1} value=${happened} onInput=${(/** @type {any} */ event) => setHappened(Number(event.currentTarget.value))} aria-valuetext=${moment(at.time_ms, zone)} /></label>
        <label class="slider"><span>What the log knew at <b>${at.size} notes</b>${when ? `, ${moment(when, zone)}` : ""}</span><input type="range" min="0" max=${sizes.length - 1} value=${known} onInput=${(/** @type {any} */ event) => setKnown(Number(event.currentTarget.value))} aria-valuetext=${`${at.size} notes`} /></label>
      </div>
      ${looks.length > 0 ? html`<${Strip} looks=${looks} shape=${shape} label=${label} />` : null}
      <p><b>${counted(seen.length - later, "note")} known</b>${later > 0 ? `, ${later} not yet` : ""}, in the order of becoming known.</p>
      <div class="two">
        ${before === null ? html`<button type="button" class="key-wide" onClick=${() => setBefore(at.size)}>Keep this moment, then move: what changed?</button>` : html`<button type="button" class="key-wide" aria-pressed="true" onClick=${() => setBefore(null)}>Compared with ${before} notes; stop</button>`}
        <button type="button" class="key-wide" onClick=${file}>Take this view away as a file</button>
      </div>
      ${before === null ? null : html`<${Changed} nursery=${nursery} subject=${body.item_id} from=${Math.min(before, at.size)} to=${Math.max(before, at.size)} zone=${zone} names=${names} />`}
      <ol class="told">${seen.map((one) => html`<${Note} key=${one.note.id} nursery=${nursery} seen=${one} zone=${zone} names=${names} labelled=${labelled} isTrainee=${isTrainee} now=${happened === times.length - 1 && known === sizes.length - 1} />`)}</ol>
    </div>
  `;
}

/** Words of a note that name a person by the pseudonym, with the name that this house knows. @param {string} words @param {(person?: string) => string} names */
const named = (words, names) => words.replaceAll(/person\/[0-9A-Z]{26}/g, (person) => names(person));

/** When the log reached a size, as far as these notes tell. @param {any[]} notes @param {number} size */
function knownWhen(notes, size) {
  const recorded = notes.flatMap((note) => [note, ...(note.acts_told ?? [])]).filter(({ seq }) => seq + 1 === size)[0];
  return recorded?.recorded_at;
}

/** @param {{nursery: Nursery, seen: import("./two-clocks.js").Seen, zone: string, names: (person?: string) => string, labelled: (id: string) => string|undefined, isTrainee: (person?: string) => boolean, now: boolean}} props */
function Note({ nursery, seen, zone, names, labelled, isTrainee, now }) {
  const { note, known, standing, data, acts } = seen;
  return html`
    <li class="told-note" data-standing=${standing} data-known=${known ? "known" : "later"}>
      <p><b>${tellNote(note.kind)}</b> ${memberWords(data, labelled)}</p>
      <p class="told-when"><span>happened ${moment(note.time, zone)}</span><span>known since ${moment(note.recorded_at, zone)}, note ${note.seq}</span><span>by ${names(note.by.person)}</span></p>
      ${known ? null : html`<p>Not yet known at this size.</p>`}
      ${note.latereason ? html`<p class="hint">${note.from_paper ? `Written on paper at ${moment(note.time, zone)}, entered by ${names(note.by.person)}: ` : ""}${named(note.latereason, names)}</p>` : null}
      ${note.suspected ? html`<p class="ask-again">Recorded while the key of its author was suspected: ask before anything rests on it.</p>` : null}
      ${(note.vouched_for_by ?? []).length > 0 ? html`<p class="hint">Vouched for by ${note.vouched_for_by.map(names).join(", ")}.</p>` : null}
      ${note.withheld ? html`<p>The body is withheld; its place in the log still stands.</p>` : null}
      ${known && data.photo_copy_sha256 ? html`<${ShownPhoto} nursery=${nursery} sha256=${data.photo_copy_sha256} words=${`Photo of ${day(note.time, zone)}, ${tellNote(note.kind).toLowerCase()}`} />` : null}
      ${acts.map((/** @type {any} */ act) => html`<p class="pair"><span>${act.kind === "record.retracted.v1" ? "taken back" : "put right"}</span><span>${act.reason}, ${moment(act.recorded_at, zone)}, note ${act.seq}</span></p>`)}
      ${standing === "put right" ? (note.put_right ?? []).map((/** @type {any} */ change) => html`<p class="pair"><span>${change.at.replace(/^\/(data\/)?/, "")}</span><span><s>${JSON.stringify(change.before ?? null)}</s> → <b>${JSON.stringify(change.after ?? null)}</b></span></p>`) : null}
      ${(note.endorsed_by ?? []).map((/** @type {any} */ by) => html`<p class="hint">Signed beside by ${names(by.person)}.</p>`)}
      ${now ? html`<div class="acts"><${Endorse} nursery=${nursery} note=${note} trainee=${isTrainee(note.by.person)} /><${PutRight} nursery=${nursery} note=${note} /></div>` : null}
    </li>
  `;
}

/** @param {{nursery: Nursery, subject: string, from: number, to: number, zone: string, names: (person?: string) => string}} props */
function Changed({ nursery, subject, from, to, zone, names }) {
  const [noun = "", id = ""] = (subject ?? "").split("/");
  const { reading, trouble } = useReading(nursery, from === to ? null : `/v1/${noun}s/${id}/history?diff=${from},${to}`);
  if (from === to) return html`<p class="hint">Move a slider: what changed since this moment comes here.</p>`;
  const told = reading?.body;
  if (!told) return html`<p>Not known here: ${trouble ?? "reading …"}</p>`;
  return html`
    <section class="card">
      <h2>Between ${from} and ${to} notes</h2>
      <p>${counted(told.new.length, "note")} came, ${counted(told.changed.length, "note")} told otherwise, ${told.gone.length} gone to another time.</p>
      ${told.item.length > 0 ? html`<ul class="plain-list">${told.item.slice(0, 40).map((/** @type {any} */ change) => html`<li>${change.at.slice(1).replaceAll("/", " › ").replaceAll("_", " ")}: ${JSON.stringify(change.before ?? null)} → <b>${JSON.stringify(change.after ?? null)}</b></li>`)}</ul>` : null}
      <ul class="plain-list">${told.new.map((/** @type {any} */ note) => html`<li>${tellNote(note.kind)}, happened ${moment(note.time, zone)}, by ${names(note.by.person)}</li>`)}</ul>
    </section>
  `;
}

/** @param {string} name @param {string} text */
function save(name, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
