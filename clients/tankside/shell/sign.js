// Notes by others that want this person's signature: each is read whole before it is signed.

import { useEffect, useState } from "preact/hooks";
import { spokenKeyid } from "../device/keys.js";
import { html } from "../html.js";
import { useNursery } from "./hooks.js";
import { wantsWords } from "./waiting.js";

/** @import { Waiting } from "../contracts.js" */
/** @import { Tankside } from "./nursery.js" */

/** @param {{nursery: Tankside}} props */
export function Sign({ nursery }) {
  const { person } = useNursery(nursery);
  const [notes, setNotes] = useState(/** @type {Waiting[]|null} */ (null));
  const [said, setSaid] = useState("");
  const look = () => nursery.forMe().then(setNotes).catch((error) => setSaid(error.message));
  useEffect(() => {
    look();
    return nursery.onGrown(look);
  }, [person?.keyid]);
  const sign = async (/** @type {Waiting} */ note) => {
    try {
      setSaid((await nursery.approve(note)) ? "Signed and recorded; the receipt was checked." : "Signed. It waits for others too.");
    } catch (error) {
      setSaid(/** @type {Error} */ (error).message);
    }
    await look();
  };
  return html`
    <section class="text">
      <p role="status">${said}</p>
      ${notes?.length === 0 ? html`<p>Nothing waits for ${person?.name ?? "anybody"}.</p>` : null}
      <ol class="list notes">${(notes ?? []).map((note) => html`<${One} key=${note.event.id} note=${note} sign=${() => sign(note)} />`)}</ol>
    </section>
  `;
}

/** @param {{note: Waiting, sign: () => void}} props */
function One({ note, sign }) {
  const { event, text, until, wants } = note;
  return html`
    <li class="note">
      <b>${event.type}</b> <span>about ${event.subject}, by the key ${spokenKeyid(event.keyid)}; wants ${wantsWords(wants)}; until ${until}</span>
      <dl>${Object.entries(event.data).map(([name, value]) => html`<dt>${name.replaceAll("_", " ")}</dt><dd>${typeof value === "string" ? value : JSON.stringify(value)}</dd>`)}</dl>
      <details><summary>The bytes that are signed</summary><pre class="wrap">${text}</pre></details>
      <button type="button" class="primary" onClick=${sign}>Sign this ${event.type}</button>
    </li>
  `;
}
