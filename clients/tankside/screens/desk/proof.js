// Proof: one sentence first, then each check with the command that repeats it off line. The bundle is
// fetched whole, or taken from a file, and checked here by the page's own code.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { useNursery } from "../../shell/hooks.js";
import { checkBundle, untar } from "./bundle.js";

/** @import { ScreenProps } from "../../contracts.js" */
/** @import { Check } from "./bundle.js" */

const SHOWS = "Every note is as it was signed, in the order it came, and none has been taken away since the checkpoint.";
const SHOWS_NOT = "It does not show that a note is true, nor that everything that happened was noted.";
const STATES = { holds: "✓ holds", broken: "✕ does not hold", open: "◌ not checked here" };

/** @param {ScreenProps} props */
export default function Proof({ nursery }) {
  useNursery(nursery);
  const [checks, setChecks] = useState(/** @type {Check[]} */ ([]));
  const [doing, setDoing] = useState("");
  const [trouble, setTrouble] = useState("");
  const [bundle, setBundle] = useState(/** @type {Blob|null} */ (null));
  const run = async (/** @type {Promise<Blob>} */ from) => {
    setTrouble("");
    setChecks([]);
    setDoing("Reading the bundle …");
    try {
      const blob = await from;
      setBundle(blob);
      const files = untar(new Uint8Array(await blob.arrayBuffer()));
      const found = await checkBundle(files, nursery.house?.fingerprint ?? "", (done, all) => setDoing(`Checking note ${done} of ${all} …`));
      setChecks(found.checks);
    } catch (error) {
      setTrouble(error instanceof Error ? error.message : String(error));
    }
    setDoing("");
  };
  const chosen = (/** @type {any} */ event) => event.currentTarget.files?.[0] && run(Promise.resolve(event.currentTarget.files[0]));
  return html`
    <div class="desk">
      <p class="sentence" role="status">${sentence(checks)}</p>
      ${nursery.house?.simulatedClock ? html`<p>An invented season, with a simulated clock.</p>` : null}
      <div class="two">
        <button type="button" class="go" disabled=${doing !== ""} onClick=${() => run(nursery.fetchFile("/v1/log/bundle"))}>Fetch the bundle and check it here</button>
        <label class="photo-key"><input class="unseen" type="file" accept=".tar,application/x-tar" onChange=${chosen} /><span>Check a bundle from a file</span></label>
      </div>
      ${doing ? html`<p class="hint" role="status">${doing}</p>` : null}
      ${trouble ? html`<p class="trouble" role="alert">Not checked: ${trouble}</p>` : null}
      ${checks.length > 0 ? html`
        <ol class="checks">${checks.map(({ name, state, says, command }) => html`<li class="check" data-state=${state}><b>${STATES[state]} · ${name}</b><span>${says}</span><code class="command">${command}</code></li>`)}</ol>` : html`<p class="hint">Off line, without this page and without the service: unpack the bundle, and run <code>selachron-verify bundle --log-key VKEY</code>. Get the key by another way than the bundle came.</p>`}
      ${bundle ? html`<a class="key-wide" href=${urlOf(bundle)} download="bundle.tar">Keep the bundle as a file</a>` : null}
    </div>
  `;
}

/** In the words of the format, and no more. @param {Check[]} checks */
function sentence(checks) {
  if (checks.length === 0) return `What a check shows: ${SHOWS} ${SHOWS_NOT}`;
  const broken = checks.filter(({ state }) => state === "broken");
  if (broken.length > 0) return `This bundle does not hold: ${broken.map(({ says }) => says).join("; ")}.`;
  const tied = checks.some(({ name, state }) => name === "Signed by the log you know" && state === "holds");
  return tied ? `${SHOWS} ${SHOWS_NOT}` : "consistent with itself; not yet tied to a key you trust";
}

/** @type {WeakMap<Blob, string>} */
const urls = new WeakMap();

/** @param {Blob} blob */
function urlOf(blob) {
  const url = urls.get(blob) ?? URL.createObjectURL(blob);
  urls.set(blob, url);
  return url;
}
