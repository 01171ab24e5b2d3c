// Enrolling this device's key: what the registrar needs (the public key, as a picture, as text, and
// as a code to read aloud), then what the registrar wrote, then the signature that proves the key.

import { useEffect, useState } from "preact/hooks";
import { spokenKeyid } from "../device/keys.js";
import { html } from "../html.js";
import { useNursery } from "./hooks.js";
import { standingWords } from "./people.js";

/** @import { Offer } from "../device/approving.js" */
/** @import { Tankside } from "./nursery.js" */

/** How often it is asked whether the registrar has written. */
const ASK_EVERY_MS = 4_000;

/** @param {{nursery: Tankside}} props */
export function Device({ nursery }) {
  const { person, house } = useNursery(nursery);
  if (!person) return html`<p>Nobody is in hand. <a href="#/people">Say who you are.</a></p>`;
  return html`
    <section class="text">
      <h2>${person.name}: ${standingWords(person)}</h2>
      ${house ? html`<p>Record: ${house.origin}. Fingerprint of its log key, pinned on this device: <code>${spokenKeyid(house.fingerprint)}</code>. Compare it with the registrar's.</p>` : html`<p>This device has not met the service yet.</p>`}
      ${person.standing === "made" ? html`<${Enrol} nursery=${nursery} />` : html`<p>Key <code>${spokenKeyid(person.keyid)}</code></p>`}
    </section>
  `;
}

/** @param {{nursery: Tankside}} props */
function Enrol({ nursery }) {
  const { person } = nursery;
  const [offer, setOffer] = useState(/** @type {Offer|null} */ (null));
  const [said, setSaid] = useState("");
  useEffect(() => {
    const ask = async () => {
      try {
        const found = await nursery.findOffer();
        setOffer(found);
        if (!found) await nursery.lookUpKeys();
      } catch (error) {
        setSaid(/** @type {Error} */ (error).message);
      }
    };
    ask();
    const timer = setInterval(ask, ASK_EVERY_MS);
    return () => clearInterval(timer);
  }, [person?.keyid]);
  if (!person) return null;
  const sign = async (/** @type {Offer} */ it) => {
    try {
      setSaid((await nursery.signOffer(it)) ? "Enrolled. The receipt was checked." : "Signed. It waits for others who must sign it too.");
    } catch (error) {
      setSaid(/** @type {Error} */ (error).message);
    }
  };
  return html`
    ${offer ? html`<${OfferShown} offer=${offer} sign=${() => sign(offer)} />` : html`<${ForRegistrar} publicKey=${person.publicKey} keyid=${person.keyid} />`}
    <p role="status">${said}</p>
  `;
}

/** @param {{publicKey: string, keyid: string}} props */
function ForRegistrar({ publicKey, keyid }) {
  return html`
    <p>Show this to the registrar, who enrols the key and leaves the note for this device to sign:</p>
    <${Picture} text=${publicKey} />
    <p>Public key <code class="wrap">${publicKey}</code></p>
    <p>Read aloud, to compare: <code>${spokenKeyid(keyid)}</code></p>
    <p class="hint">At the registrar's machine: <code class="wrap">selachron key enrol --public-key ${publicKey} --roles keeper --device "tray room tablet" --wait</code></p>
  `;
}

/** @param {{offer: Offer, sign: () => void}} props */
function OfferShown({ offer, sign }) {
  const { person, roles, device, valid_until: until } = offer.event.data;
  return html`
    <p>The registrar's key <code>${spokenKeyid(offer.event.keyid)}</code> enrols this key:</p>
    <dl><dt>for</dt><dd><code>${person}</code></dd><dt>as</dt><dd>${(roles ?? []).join(", ")}</dd><dt>on</dt><dd>${device}</dd>${until ? html`<dt>until</dt><dd>${until}</dd>` : null}</dl>
    <details><summary>The bytes that are signed</summary><pre class="wrap">${offer.text}</pre></details>
    <button type="button" class="primary" onClick=${sign}>Sign: this key is here, as ${(roles ?? []).join(", ")} on ${device}</button>
  `;
}

/** A QR code; the encoder is fetched when it is needed first. @param {{text: string}} props */
export function Picture({ text }) {
  const [rows, setRows] = useState(/** @type {boolean[][]} */ ([]));
  useEffect(() => {
    import("qr").then(({ default: encode }) => setRows(encode(text, "raw", { ecc: "medium", border: 4 })));
  }, [text]);
  const path = rows.flatMap((row, y) => row.flatMap((dark, x) => (dark ? [`M${x} ${y}h1v1h-1z`] : []))).join("");
  return rows.length === 0
    ? html`<div class="qr"></div>`
    : html`<svg class="qr" viewBox=${`0 0 ${rows.length} ${rows.length}`} role="img" aria-label=${`QR code of ${text}`} shape-rendering="crispEdges"><rect width="100%" height="100%" fill="#fff" /><path d=${path} fill="#000" /></svg>`;
}
