// Signing beside a note by somebody else: a trainee's notes wait for it. The colleague signs what the
// note says, by its place in the log and the fingerprint of its body.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { endorsed } from "../notes/house.js";
import { canPutRight } from "../notes/acts.js";
import { Sign } from "../parts/controls.js";
import { memberWords, tellNote } from "./telling.js";

/** @import { Nursery } from "../../contracts.js" */

/** Roles whose signature beside a note counts (roles.json). */
const ENDORSING = ["keeper", "veterinarian", "curator", "registrar"];

/** @param {{nursery: Nursery, note: any, trainee: boolean}} props */
export function Endorse({ nursery, note, trainee }) {
  const [open, setOpen] = useState(false);
  const [body, setBody] = useState("");
  const [trouble, setTrouble] = useState("");
  const { person } = nursery;
  const done = (note.endorsed_by ?? []).length > 0 || nursery.notes.some(({ type, data, state }) => type === "record.endorsed.v1" && data.seq === note.seq && state !== "refused");
  const waits = trainee && !done ? html`<p class="ask-again">By a trainee: a colleague's signature beside it is wanted.</p>` : null;
  if (done || note.standing === "taken back" || !canPutRight(note) || person?.standing !== "enrolled" || person.person === note.by.person || !person.roles.some((role) => ENDORSING.includes(role))) return waits;
  const begin = () => {
    setOpen(!open);
    nursery.read(`/v1/events/${note.id}`).then(({ body: { item } }) => setBody(item.body_sha256), (error) => setTrouble(error.message));
  };
  const says = `${tellNote(note.kind)}, ${memberWords(note.data)}`;
  const notes = body ? [endorsed({ subject: note.as_written?.subject ?? note.subject, seq: note.seq, bodySha256: body, words: [`Signed beside by ${person.name}`, `note ${note.seq}`, says.length > 90 ? `${says.slice(0, 89)}…` : says] })] : [];
  return html`
    ${waits}
    <button type="button" class="choice-key put-right" aria-expanded=${open} onClick=${begin}>Sign beside it</button>
    ${open ? html`<section class="card">
      ${note.standing === "put right" ? html`<p class="ask-again">This note was put right since it was written: what is signed beside is what was first written.</p>` : null}
      <${Sign} nursery=${nursery} kind="main" notes=${notes} why=${trouble || "Reading the note itself …"} onSigned=${() => setOpen(false)} />
    </section>` : null}
  `;
}
