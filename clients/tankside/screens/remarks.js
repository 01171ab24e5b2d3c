// Remarks that were to follow: cases marked in the round, for the desk. The remark puts the look right;
// both stay visible.

import { html } from "../html.js";
import { useNursery } from "../shell/hooks.js";
import { REMARK_LATER, remarked } from "./notes/candling.js";
import { REMARK_MAX } from "./notes/note.js";
import { Sign, Words } from "./parts/controls.js";
import { moment } from "./parts/days.js";
import { keptForm, useKept } from "./parts/kept.js";
import { labelOf, useEggs, zoneOf } from "./parts/reading.js";

/** @import { LocalNote, Nursery, ScreenProps } from "../contracts.js" */

/** @param {ScreenProps} props */
export default function Remarks({ nursery }) {
  useNursery(nursery);
  const eggs = useEggs(nursery);
  const written = new Set(nursery.notes.filter(({ type, state }) => type === "record.corrected.v1" && state !== "refused").map(({ data }) => data.target));
  const marked = nursery.notes.filter(({ id, type, data, state }) => type === "egg.candled.v1" && state !== "refused" && String(data.remark ?? "").includes(REMARK_LATER) && !written.has(id));
  return html`
    <div class="hand">
      ${marked.length === 0 ? html`<p>No remark is to be written.</p>` : null}
      ${marked.map((note) => html`<${KeptOne} key=${note.id} nursery=${nursery} note=${note} label=${labelOf(eggs.items, note.subject)} />`)}
    </div>
  `;
}

/** @param {{nursery: Nursery, note: LocalNote, label: string, form: string, anew: () => void}} props */
function One({ nursery, note, label, form, anew }) {
  const [text, setText] = useKept(nursery, form, "text", "");
  const waits = note.state !== "recorded";
  return html`
    <article class="card">
      <h2>${label}</h2>
      <p>${note.says} · ${moment(note.time, zoneOf(nursery))}</p>
      <${Words} label="Remark" text=${text} onText=${setText} most=${REMARK_MAX} lines=${3} />
      <${Sign} nursery=${nursery} kind="main" notes=${!waits && text.trim() ? [remarked(note, text.trim())] : []} why=${waits ? "The look itself waits to be recorded first" : "Write the remark"} onSigned=${anew} />
    </article>
  `;
}

const KeptOne = keptForm(One, ({ note }) => `remark/${note.id}`);
