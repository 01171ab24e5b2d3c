// Waiting to send: what is on this device and not in the record yet, what was refused and why, and
// how to carry it away when the network stays gone.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { ageWords } from "./frame.js";
import { useNursery } from "./hooks.js";

/** @import { LocalNote } from "../contracts.js" */
/** @import { Tankside } from "./nursery.js" */

const STATES = { pending: "can be taken back", waiting: "signed, waits", refused: "refused", recorded: "recorded, receipt checked" };

/** @param {{nursery: Tankside}} props */
export function Waiting({ nursery }) {
  const { outbox, notes } = useNursery(nursery);
  const newest = [...notes].reverse();
  const isFirst = (/** @type {LocalNote} */ { state, read }) => state === "refused" && !read;
  const first = newest.filter(isFirst);
  const rest = newest.filter((note) => !isFirst(note));
  return html`
    <section class="text">
      ${outbox.broken ? html`<div role="alert" class="trouble"><p>${outbox.broken}</p><button type="button" onClick=${() => nursery.tryAgain()}>The registrar has looked: try again</button></div>` : null}
      <p>${storageWords(outbox.persistent)}</p>
      <${Carry} nursery=${nursery} waits=${outbox.waiting + outbox.pending} />
    </section>
    <ol class="list notes" aria-label="Notes of this device, newest first">
      ${[...first, ...rest].map((note) => html`<${Note} key=${note.id} nursery=${nursery} note=${note} />`)}
    </ol>
  `;
}

/** @param {boolean|null} persistent */
function storageWords(persistent) {
  if (persistent === null) return "";
  if (persistent) return "The browser keeps this device's notes until they are recorded.";
  return "The browser has not promised to keep what is here. Put the pages on the home screen, and save waiting notes to a file if they stay long.";
}

/** @param {{nursery: Tankside, waits: number}} props */
function Carry({ nursery, waits }) {
  const [said, setSaid] = useState("");
  const save = async () => {
    const text = await nursery.saveWaiting();
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: "application/x-ndjson" }));
    link.download = `waiting-notes-${new Date(nursery.now()).toISOString().slice(0, 16).replaceAll(":", "")}.ndjson`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
    setSaid("Saved. The notes stay here too; sent twice they are recorded once.");
  };
  const load = async (/** @type {Event} */ event) => {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    try {
      const text = await input.files?.[0]?.text();
      if (text !== undefined) setSaid(`${await nursery.loadWaiting(text)} notes were new here and wait now.`);
    } catch (error) {
      setSaid(/** @type {Error} */ (error).message);
    }
    input.value = "";
  };
  return html`
    <div class="carry">
      <button type="button" disabled=${waits === 0} onClick=${save}>Save waiting notes to a file</button>
      <label class="button">Load waiting notes from a file <input type="file" class="unseen" accept=".ndjson,application/x-ndjson" onChange=${load} /></label>
    </div>
    <p role="status">${said}</p>
  `;
}

/** Whose signatures are wanting. @param {NonNullable<LocalNote["wants"]>} wants */
export const wantsWords = (wants) => wants.map(({ roles = [], persons = 1, key }) => (key ? "the new key" : `${persons === 1 ? "" : `${persons} of `}${roles.join(" or ")}`)).join(", ");

/** @param {{nursery: Tankside, note: LocalNote}} props */
function Note({ nursery, note }) {
  const [body, setBody] = useState(/** @type {string|null} */ (null));
  const show = async (/** @type {Event} */ event) => {
    if (/** @type {HTMLDetailsElement} */ (event.currentTarget).open) setBody(await nursery.bodyOf(note.id));
  };
  const who = nursery.people.find(({ keyid }) => keyid === note.keyid)?.name ?? "a key that is not here";
  return html`
    <li class="note" data-state=${note.state}>
      <b>${note.says}</b> <span>${note.wants ? `signed, waits for ${wantsWords(note.wants)}` : STATES[note.state]} · ${who} · ${ageWords(nursery.now() - note.tapped_ms)}</span>
      ${note.problem ? html`<p class="trouble">${note.problem.detail}</p>` : null}
      ${note.state === "pending" ? html`<button type="button" onClick=${() => nursery.takeBack(note.group)}>Take back</button>` : null}
      ${note.state === "refused" && !note.read ? html`<button type="button" onClick=${() => nursery.markRead(note.id)}>I have read this</button>` : null}
      <details onToggle=${show}><summary>The bytes</summary><pre class="wrap">${body ?? "not signed yet"}</pre></details>
    </li>
  `;
}
