// Proof: one sentence first, then each check with the command that repeats it off line. The whole
// record is fetched and checked in the page, under the key that this device pinned.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { useNursery } from "../../shell/hooks.js";

/** @import { Audit, Check, ScreenProps } from "../../contracts.js" */

const SHOWS = "What a check shows: every note is as it was signed, in the order it came, and none has been taken away since the checkpoint. It does not show that a note is true, nor that everything that happened was noted.";
const OUTCOMES = { holds: "✓ holds", broken: "✕ does not hold", "not here": "◌ not checked here" };

/** @param {ScreenProps} props */
export default function Proof({ nursery }) {
  useNursery(nursery);
  const [checks, setChecks] = useState(/** @type {Check[]} */ ([]));
  const [audit, setAudit] = useState(/** @type {Audit|null} */ (null));
  const [doing, setDoing] = useState(false);
  const [trouble, setTrouble] = useState("");
  const run = async () => {
    setTrouble("");
    setChecks([]);
    setAudit(null);
    setDoing(true);
    try {
      setAudit(await nursery.prove((check) => setChecks((all) => [...all, check])));
    } catch (error) {
      setTrouble(error instanceof Error ? error.message : String(error));
    }
    setDoing(false);
  };
  const shown = audit?.checks ?? checks;
  return html`
    <div class="desk">
      <p class="sentence" role="status">${audit?.sentence ?? (doing ? "Fetching the whole record and checking it here …" : SHOWS)}</p>
      ${audit ? html`<p>${audit.size} notes were checked on this device.</p>` : null}
      ${nursery.house?.simulatedClock ? html`<p>An invented season, with a simulated clock.</p>` : null}
      <div class="two">
        <button type="button" class="go" disabled=${doing} onClick=${run}>${audit ? "Check again" : "Fetch the record and check it here"}</button>
        <${Keep} nursery=${nursery} />
      </div>
      ${trouble ? html`<p class="trouble" role="alert">Not checked: ${trouble}</p>` : null}
      <ol class="checks">${shown.map(({ name, outcome, detail, command }) => html`<li class="check" data-state=${outcome}><b>${OUTCOMES[outcome]} · ${name}</b><span>${detail}</span><code class="command">${command}</code></li>`)}</ol>
      <p class="hint">Off line, without this page and without the service: unpack the record and run <code>selachron-verify bundle --log-key VKEY</code>. Get the key by another way than the record came. This device pinned the fingerprint ${nursery.house?.fingerprint ?? "of no log yet"}.</p>
    </div>
  `;
}

/** The record as a file, for a check elsewhere. @param {{nursery: import("../../contracts.js").Nursery}} props */
function Keep({ nursery }) {
  const [url, setUrl] = useState("");
  const [trouble, setTrouble] = useState("");
  const fetched = () => nursery.fetchFile("/v1/log/bundle").then((blob) => setUrl(URL.createObjectURL(blob)), (error) => setTrouble(error.message));
  if (url) return html`<a class="key-wide" href=${url} download="bundle.tar">Keep the record: save bundle.tar</a>`;
  return html`<div><button type="button" class="key-wide" onClick=${fetched}>Take the record away as a file</button>${trouble ? html`<p class="trouble" role="alert">${trouble}</p>` : null}</div>`;
}
