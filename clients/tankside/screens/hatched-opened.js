// An opening is noted with its outcome, also one that ends without a hatch. What was seen and done, in
// the keeper's words; nothing here says how, or that it is allowed.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { EXTENTS, LEFT_HOW, OUTCOMES, URGENT, opened } from "./notes/eggs.js";
import { WORDS_MAX, cut } from "./notes/note.js";
import { Caution, Choose, Sign, Words } from "./parts/controls.js";

/** @param {{nursery: import("../contracts.js").Nursery, egg: any, onSigned: () => void}} props */
export function Opened({ nursery, egg, onSigned }) {
  const [known, setKnown] = useState(/** @type {boolean|null} */ (null));
  const [extent, setExtent] = useState("");
  const [left, setLeft] = useState("");
  const [outcome, setOutcome] = useState("");
  const [urgent, setUrgent] = useState("");
  const [steps, setSteps] = useState("");
  const [stopped, setStopped] = useState("");
  const complete = known !== null && extent && left && outcome;
  const lines = steps.split("\n").map((step) => cut(step, WORDS_MAX)).filter((step) => step !== "");
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
    <${Sign} nursery=${nursery} kind="main" notes=${notes} why="Say what was done, and how it ended" onSigned=${onSigned} />
  `;
}
