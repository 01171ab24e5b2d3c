// Whose record this is, and what its proofs show.

import { spokenKeyid } from "../device/keys.js";
import { html } from "../html.js";
import { useNursery } from "./hooks.js";

/** @import { Tankside } from "./nursery.js" */

/** @param {{nursery: Tankside}} props */
export function About({ nursery }) {
  const { house } = useNursery(nursery);
  return html`
    <section class="text">
      <h2>${house?.name ?? "No record met yet"}</h2>
      ${house ? html`<dl><dt>origin</dt><dd>${house.origin}</dd><dt>days are dates in</dt><dd>${house.timeZone}</dd><dt>log key, fingerprint</dt><dd><code>${spokenKeyid(house.fingerprint)}</code></dd></dl>` : null}
      <p>Every note is as it was signed, in the order it came, and none has been taken away since the checkpoint. It does not show that a note is true, nor that everything that happened was noted.</p>
      <p><a class="button" href="#/">To the first screen</a></p>
    </section>
  `;
}
