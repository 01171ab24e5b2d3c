// An opening is noted with its outcome, also one that ends without a hatch. What was seen and done, in
// the keeper's words; nothing here says how, or that it is allowed.

import { html } from "../html.js";
import { EXTENTS, LEFT_HOW, OUTCOMES, URGENT, opened } from "./notes/eggs.js";
import { MATTERS_MAX, WORDS_MAX, linesOf } from "./notes/note.js";
import { Caution, Choose, Sign, Words } from "./parts/controls.js";
import { keptForm, useKept } from "./parts/kept.js";

export const Opened = keptForm(Form, (/** @type {{nursery: import("../contracts.js").Nursery, egg: any, onSigned: () => void}} */ { egg }) => `opened/${egg.id}`);

/** @param {{nursery: import("../contracts.js").Nursery, egg: any, onSigned: () => void, form: string, anew: () => void}} props */
function Form({ nursery, egg, onSigned, form, anew }) {
  const [known, setKnown] = useKept(nursery, form, "known", /** @type {boolean|null} */ (null));
  const [extent, setExtent] = useKept(nursery, form, "extent", "");
  const [left, setLeft] = useKept(nursery, form, "left", "");
  const [outcome, setOutcome] = useKept(nursery, form, "outcome", "");
  const [urgent, setUrgent] = useKept(nursery, form, "urgent", "");
  const [steps, setSteps] = useKept(nursery, form, "steps", "");
  const [stopped, setStopped] = useKept(nursery, form, "stopped", "");
  const complete = known !== null && extent && left && outcome;
  const lines = linesOf(steps);
  const notes = complete ? [opened({ egg: egg.id, extent, knownDead: known === true, left, outcome, steps: lines, stopped, urgent: urgent || undefined })] : [];
  return html`
    <${Caution}>The licensed veterinarian and the institution's animal-welfare process decide; local law and permits apply. Most late young come by themselves. A case is opened by two people; the second signs too.<//>
    <${Choose} legend="Was it known to be dead before?" options=${[false, true]} held=${known} onChoose=${setKnown} words=${(/** @type {boolean} */ yes) => (yes ? "yes: an examination" : "no")} />
    <${Choose} legend="What was done" options=${EXTENTS} held=${extent} onChoose=${setExtent} />
    <${Words} label="What was seen at each step" hint="one line a step" text=${steps} onText=${setSteps} most=${2000} lines=${3} />
    <${Words} label="Stopped because" hint="empty: not stopped" text=${stopped} onText=${setStopped} most=${WORDS_MAX} />
    <${Choose} legend="How the case was left" options=${LEFT_HOW} held=${left} onChoose=${setLeft} />
    <${Choose} legend="Outcome" options=${OUTCOMES} held=${outcome} onChoose=${setOutcome} />
    <${Choose} legend="Could it not wait for signatures?" options=${["", ...URGENT]} held=${urgent} onChoose=${setUrgent} words=${(/** @type {string} */ one) => (one === "" ? "it was decided before" : one)} />
    <${Sign} nursery=${nursery} kind="main" notes=${notes} why="Say what was done, and how it ended" onSigned=${() => (anew(), onSigned())} />
  `;
}
