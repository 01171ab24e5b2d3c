// From paper: what stands on a round sheet is typed in, shown note by note in words, and signed by
// whoever typed it in. What is known of a case since is said beside it; nothing is written over.

import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { counted } from "../look/drawings/ink.js";
import { COUNT_MAX } from "./notes/note.js";
import { isEmpty, missingOf, paperNotes, paperReason } from "./notes/paper.js";
import { LEFT_MAX, LEFT_REASONS, roundLabel } from "./notes/rounds.js";
import { Caution, Choose, Fresh, Says, Sign, TakeBack } from "./parts/controls.js";
import { clock, day, fullDay, ms } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { keyed } from "./parts/keyed.js";
import { againstLook, isMeant, rowsOf, sinceMade, whenWritten } from "./parts/paper.js";
import { isKnown, labelOf, nameOf, shapeOf, useEggs, useItems, usePeople, useTanks, zoneOf } from "./parts/reading.js";
import { stylesheet } from "./parts/stylesheet.js";
import { openRound } from "./parts/tray.js";
import { Rows } from "./transcribe-rows.js";
import { WhichSheet, WrittenWhen, useNamed } from "./transcribe-sheet.js";

/** @import { Nursery, ScreenProps } from "../contracts.js" */
/** @import { Entry } from "./notes/paper.js" */
/** @import { Row } from "./parts/paper.js" */

/**
 * What is typed in, kept until it is signed.
 * @typedef {object} Filled
 * @property {string} source the page hash of a sheet printed here, "typed", "none", or "" before it is said
 * @property {string} hash @property {string} size @property {string} printed as the foot of the sheet says
 * @property {string} at @property {string} begun @property {string} count
 * @property {string} [by] who wrote it; the person in hand, if not said
 * @property {Record<string, Entry>} rows by case
 * @property {string} reason why those left were not looked at
 * @property {string} round a new one, for this sheet
 * @property {"own"|"open"|""} into whose round the looks are
 * @property {string} sent the group of notes, once they are signed
 */

await stylesheet(new URL("../look/paper.css", import.meta.url).href);

export default keyed(Transcribe);

/** @param {ScreenProps} props */
function Transcribe({ nursery, params }) {
  useNursery(nursery);
  const reads = { eggs: useEggs(nursery), tanks: useTanks(nursery), species: useItems(nursery, "/v1/species"), rounds: useItems(nursery, "/v1/rounds"), people: usePeople(nursery) };
  const tank = reads.tanks.items.find(({ id }) => id === `tank/${params.tank}`);
  if (!tank || !reads.eggs.reading || !isKnown(reads.rounds, reads.people, reads.species)) return html`<${Fresh} read=${reads.tanks} nursery=${nursery} clock=${(/** @type {number} */ at) => clock(at, zoneOf(nursery))} />`;
  return html`<div class="hand transcribe"><${Kept} nursery=${nursery} tank=${tank} reads=${reads} /></div><${TakeBack} nursery=${nursery} name=${(/** @type {string} */ subject) => (subject.startsWith("round/") ? "the whole sheet" : labelOf(reads.eggs.items, subject))} />`;
}

/** @typedef {Record<"eggs"|"tanks"|"species"|"rounds"|"people", import("./parts/reading.js").Read>} Reads */
/** @typedef {{nursery: Nursery, tank: any, reads: Reads, form: string, anew: () => void}} FormProps */

/** @param {FormProps} props */
function Form({ nursery, tank, reads, form, anew }) {
  const [filled, fill] = useFilled(nursery, form);
  const zone = zoneOf(nursery);
  const named = useNamed(nursery, tank, reads.eggs.items, filled);
  const rows = useMemo(() => rowsOf(named.sheet, tank, reads.eggs.items), [named.checked, filled.source, named.as.hash, tank, reads.eggs.items]);
  const when = whenWritten(filled, { now: nursery.now(), zone, printed_ms: named.printed_ms });
  const open = openBefore(nursery, reads.rounds.items, tank.id, when.begun_ms ?? when.at_ms);
  const into = open ? filled.into || "open" : "own";
  const against = new Map(rows.map((row) => [row.key, againstLook(row, { tank: tank.id, zone, at_ms: when.at_ms, begun_ms: when.begun_ms })]));
  const from_ms = when.begun_ms ?? when.at_ms ?? nursery.now();
  const meant = rows.filter((row) => isMeant(row, tank.id, from_ms));
  const asksWhy = (/** @type {Row} */ row) => into === "own" && meant.includes(row);
  const paper = { nursery, tank, filled, named, rows, when, open: into === "open" ? open : null, against, meant, asksWhy, people: reads.people.items };
  const sent = useSent(nursery, filled, fill, anew);
  const enter = (/** @type {string} */ key, /** @type {Entry} */ entry) => fill((now) => ({ rows: { ...now.rows, [key]: entry } }));
  const shapeFor = (/** @type {any} */ egg) => shapeOf(reads.species.items, egg?.species);
  if (sent) return html`<${Done} nursery=${nursery} tank=${tank} filled=${filled} anew=${anew} />`;
  return html`
    <h2 class="case-label" data-long>${tank.label}, from paper</h2>
    <${WhichSheet} nursery=${nursery} tank=${tank} filled=${filled} fill=${(/** @type {Partial<Filled>} */ change) => fill(() => change)} named=${named} />
    ${filled.source === "" ? null : html`
      <${Since} rows=${rows} named=${named} tank=${tank} tanks=${reads.tanks.items} known=${reads.eggs.reading?.body?.known_at ?? 0} zone=${zone} />
      <${WrittenWhen} nursery=${nursery} people=${reads.people.items} filled=${filled} fill=${(/** @type {Partial<Filled>} */ change) => fill(() => change)} wrong=${when.wrong} />
      ${open ? html`<${Choose} legend="Which round is it?" options=${["open", "own"]} held=${into} onChoose=${(/** @type {"open"|"own"} */ one) => fill(() => ({ into: one }))} words=${(/** @type {string} */ one) => (one === "open" ? `the one that is open, ${open.label}` : "one of its own, begun and closed with this sheet")} />` : null}
      <${Rows} rows=${rows} entries=${filled.rows} enter=${enter} shapeFor=${shapeFor} against=${against} asksWhy=${asksWhy} />
      <${Review} ...${paper} fill=${(/** @type {Partial<Filled>} */ change) => fill(() => change)} />`}
    <${Caution}>Paper is kept until its notes are recorded. No movement is not death.<//>
  `;
}

const Kept = keptForm(Form, ({ tank }) => `paper ${tank.id}`);

/** @param {Nursery} nursery @param {string} form @returns {[Filled, (change: (now: Filled) => Partial<Filled>) => void]} */
function useFilled(nursery, form) {
  const [filled, keep] = useKept(nursery, form, "filled", () => /** @type {Filled} */ ({ source: "", hash: "", size: "", printed: "", at: "", begun: "", count: "", rows: {}, reason: "", round: nursery.newSubject("round"), into: "", sent: "" }));
  // Keys come faster than the page is drawn: each goes on from what the one before left.
  const newest = useRef(filled);
  const fill = (/** @type {(now: Filled) => Partial<Filled>} */ change) => keep((newest.current = { ...newest.current, ...change(newest.current) }));
  return [filled, fill];
}

/** Notes of one sheet are taken back together. @param {Filled} filled */
const groupOf = ({ round }) => `paper ${round}`;

/** Whether it is signed; taken back it is a form again. One that was signed, and is opened once more, begins anew. @param {Nursery} nursery @param {Filled} filled @param {(change: (now: Filled) => Partial<Filled>) => void} fill @param {() => void} anew */
function useSent(nursery, filled, fill, anew) {
  const mine = nursery.notes.filter(({ group }) => group === groupOf(filled));
  const isBack = filled.sent !== "" && mine.length === 0;
  useEffect(() => {
    if (filled.sent && mine.every(({ state }) => state !== "pending")) anew();
  }, []);
  useEffect(() => {
    if (isBack) fill(() => ({ sent: "" }));
  }, [isBack]);
  return filled.sent !== "" && !isBack;
}

/** The round that was open when it was written. @param {Nursery} nursery @param {any[]} rounds @param {string} tank @param {number|null} at_ms */
function openBefore(nursery, rounds, tank, at_ms) {
  const open = openRound(nursery.notes, rounds, tank, "candling");
  const begun = nursery.notes.find(({ subject, type }) => subject === open?.id && type === "round.opened.v1") ?? rounds.find(({ id }) => id === open?.id);
  return open && begun && at_ms !== null && ms(begun.time) <= at_ms ? open : null;
}

/** What became of the tray since the sheet was made. @param {{rows: Row[], named: import("./transcribe-sheet.js").Named, tank: any, tanks: any[], known: number, zone: string}} props */
function Since({ rows, named, tank, tanks, known, zone }) {
  const grown = named.size === null ? 0 : known - named.size;
  const says = rows.flatMap((row) => sinceMade(row, { tank: tank.id, labelOf: (id) => labelOf(tanks, id), zone, made_ms: named.printed_ms }));
  if (named.wrong || (named.printed_ms === null && says.length === 0)) return null;
  const notes = grown > 0 ? `The log has grown by ${counted(grown, "note")} since this sheet was made` : "The log has not grown since this sheet was made, as far as is known here";
  return html`
    <section class="paper-since" aria-labelledby="paper-since">
      <h2 id="paper-since">Since it was made</h2>
      ${named.size === null ? null : html`<p>${notes}${says.length === 0 ? "; nothing of it is about these cases' looks or places." : "."}</p>`}
      ${says.length > 0 ? html`<ul class="plain-list">${says.map((sentence) => html`<li>${sentence}</li>`)}</ul>` : null}
    </section>
  `;
}

/**
 * @typedef {object} Paper
 * @property {Nursery} nursery @property {any} tank @property {Filled} filled
 * @property {import("./transcribe-sheet.js").Named} named @property {Row[]} rows @property {ReturnType<typeof whenWritten>} when
 * @property {{id: string, label: string}|null} open the open round it belongs to
 * @property {Map<string, {wrong: string, beside: string[]}>} against
 * @property {Row[]} meant @property {(row: Row) => boolean} asksWhy @property {any[]} people
 */

/** Cases without a look that the closing names. @param {Paper} paper */
const leftOf = ({ filled, asksWhy, meant }) => meant.filter((row) => asksWhy(row) && isEmpty(filled.rows[row.key] ?? {}));

/** @param {Paper} paper */
const looksOf = ({ filled, rows }) => rows.flatMap(({ key, on }) => (on && !isEmpty(filled.rows[key] ?? {}) ? [{ egg: key, label: on.label, entry: filled.rows[key] ?? {} }] : []));

/** What is missing or wrong before it can be signed, each as a sentence that names it. @param {Paper} paper @returns {string[]} */
function lacksOf(paper) {
  const { named, when, filled, against } = paper;
  const looks = looksOf(paper);
  const half = looks.filter(({ entry }) => missingOf(entry)).map(({ label, entry }) => `${label}: ${missingOf(entry)}`);
  const wrong = looks.flatMap(({ egg }) => against.get(egg)?.wrong || []);
  const unsaid = leftOf(paper).filter(({ key }) => !(filled.rows[key]?.reason || filled.reason)).map(({ on }) => on?.label);
  const count = filled.count.trim() !== "" && !(/^\d+$/.test(filled.count.trim()) && Number(filled.count) <= COUNT_MAX) ? ["Places filled: put in the number as counted on paper, or leave it empty."] : [];
  const why = unsaid.length > 0 ? [`Not looked at: ${unsaid.join(", ")}. Say why, below or in the row.`] : [];
  return [named.wrong, ...when.wrong, ...count, looks.length === 0 ? "No row is filled in yet." : "", ...half, ...wrong, ...why].filter((sentence) => sentence !== "");
}

/** All notes in words, then one button. @param {Paper & {fill: (change: Partial<Filled>) => void}} props */
function Review({ fill, ...paper }) {
  const { nursery, tank, filled, named, when, open, people } = paper;
  // What a page that was closed amid the signing has noted already is not noted twice.
  const [noted] = useState(() => new Set(nursery.notes.filter(({ group, state }) => group === groupOf(filled) && state !== "refused").map(({ type, subject }) => `${type} ${subject}`)));
  const zone = zoneOf(nursery);
  const left = leftOf(paper);
  const lacks = lacksOf(paper);
  const own = nursery.person?.person ?? "";
  const by = filled.by ?? own;
  const writer = by === own ? (nursery.person?.name ?? "") : by === "" ? "somebody who has no key here" : nameOf(nursery, people, by);
  const late = paperReason(named.as, by);
  const reasons = left.map(({ key }) => ({ which: key, reason: filled.rows[key]?.reason ?? filled.reason }));
  const round = open ? { ...open, isOpen: true } : { id: filled.round, label: roundLabel(tank.label, day(when.at_ms ?? 0, zone)), isOpen: false };
  const all = lacks.length > 0 ? [] : paperNotes({ tank, round, looks: looksOf(paper), left: reasons.length > LEFT_MAX ? [{ which: tank.id, reason: filled.reason || (reasons[0]?.reason ?? "") }] : reasons, meant: paper.meant.map(({ key }) => key), filled: filled.count.trim() === "" ? undefined : Number(filled.count), at_ms: when.at_ms ?? 0, begun_ms: when.begun_ms, late, group: groupOf(filled) });
  const notes = all.filter(({ type, saying }) => !noted.has(`${type} ${saying.subject}`));
  const written = when.at_ms === null ? "" : `${fullDay(when.at_ms, zone)}, ${when.begun_ms === null ? "" : `${clock(when.begun_ms, zone)} to `}${clock(when.at_ms, zone)}`;
  return html`
    <section aria-labelledby="paper-review">
      <h2 id="paper-review">What will be signed</h2>
      ${left.length > 0 ? html`<${Choose} legend=${`${left.length} not looked at: ${left.map(({ on }) => on?.label).join(", ")}. Why?`} options=${LEFT_REASONS} held=${filled.reason} onChoose=${(/** @type {string} */ reason) => fill({ reason })} />` : null}
      ${open ? html`<p class="hint">The round goes on: it is closed at the tray, when all are done.</p>` : null}
      ${lacks.length > 0 ? html`<div class="ask-again"><p>Before it can be signed:</p><ul class="plain-list">${lacks.map((sentence) => html`<li>${sentence}</li>`)}</ul></div>` : html`
        <p>Written on paper at <b>${written}</b> by ${writer}, entered by ${nursery.person?.name ?? "nobody"}. Each of these notes says “<span class="late">${late}</span>”.</p>
        <ol class="paper-notes">${notes.map(({ saying }) => html`<li><${Says} says=${saying.says} /></li>`)}</ol>`}
      <${Sign} nursery=${nursery} notes=${notes} kind="main" why=${lacks[0] ?? "It is all noted already"} sum=${`Sign ${counted(notes.length, "note")} · written on paper at ${written} by ${writer} · entered by ${nursery.person?.name ?? ""}`} onSigned=${() => (nursery.tone("done"), fill({ sent: groupOf(filled) }))} />
    </section>
  `;
}

/** @param {{nursery: Nursery, tank: any, filled: Filled, anew: () => void}} props */
function Done({ nursery, tank, filled, anew }) {
  const mine = nursery.notes.filter(({ group }) => group === groupOf(filled));
  const refused = mine.filter(({ state }) => state === "refused").length;
  const recorded = mine.filter(({ state }) => state === "recorded").length;
  return html`
    <h2>${tank.label}: the sheet is typed in</h2>
    <p class="big-number"><b>${mine.length}</b> <span>notes from paper, ${recorded} of them recorded${refused > 0 ? `, ${refused} refused: see what waits` : ""}. Keep the paper until all are.</span></p>
    <a class="go" href=${`#/tray/${tank.id}`}>To the tray</a>
    <button type="button" class="key-wide" onClick=${anew}>Another sheet of this tray</button>
  `;
}
