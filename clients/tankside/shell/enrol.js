// The registrar's side of an enrolment: the public key that a device shows is scanned or typed, and
// the note is left for that device to sign.

import { useRef, useState } from "preact/hooks";
import { fromBase64Of32 } from "../agreement/bytes.js";
import { keyidOf } from "../agreement/names.js";
import { spokenKeyid } from "../device/keys.js";
import { html } from "../html.js";
import { useNursery } from "./hooks.js";
import { Scanner } from "./scanner.js";

/** @import { Tankside } from "./nursery.js" */

/** Roles that a registrar gives; registrars and curators are enrolled by the root persons. */
const ROLES = ["keeper", "trainee", "veterinarian", "instrument", "laboratory", "auditor", "studbook"];

/** @param {{nursery: Tankside}} props */
export function Enrol({ nursery }) {
  const { person } = useNursery(nursery);
  const [publicKey, setPublicKey] = useState("");
  const [keyid, setKeyid] = useState("");
  const [roles, setRoles] = useState(/** @type {string[]} */ ([]));
  const [scans, setScans] = useState(false);
  const [said, setSaid] = useState("");
  const newest = useRef("");
  if (!person?.roles.includes("registrar")) return html`<p class="text">A registrar enrols keys; ${person?.name ?? "whoever is in hand"} is none.</p>`;
  const take = async (/** @type {string} */ typed) => {
    const text = typed.trim();
    newest.current = text;
    setPublicKey(text);
    setKeyid("");
    setScans(false);
    const why = await whyNot(text);
    const id = why === null ? await keyidOf(/** @type {Uint8Array} */ (fromBase64Of32(text))) : "";
    // Typing goes on meanwhile; only what stands there now counts.
    if (newest.current !== text) return;
    setSaid(why ?? "");
    setKeyid(id);
  };
  const leave = async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    const form = new FormData(/** @type {HTMLFormElement} */ (event.currentTarget));
    const device = String(form.get("device")).trim();
    const given = String(form.get("person")).trim();
    const data = { public_key: publicKey, person: given === "" ? nursery.newSubject("person") : given, roles, device };
    try {
      await nursery.act("key.enrolled.v1", data, { subject: `key/${keyid}`, says: `enrol ${device} as ${roles.join(", ")}`, atOnce: true });
      setSaid("Left for the device, which signs it and is enrolled then.");
    } catch (error) {
      setSaid(/** @type {Error} */ (error).message);
    }
  };
  return html`
    <form class="form" onSubmit=${leave}>
      ${scans ? html`<${Scanner} onFound=${take} />` : html`<button type="button" onClick=${() => setScans(true)}>Scan what the device shows</button>`}
      <label>Public key <input name="key" autocomplete="off" required value=${publicKey} onInput=${(/** @type {any} */ event) => take(event.currentTarget.value)} /></label>
      ${keyid ? html`<p>Have it read aloud on the device, and compare: <code>${spokenKeyid(keyid)}</code></p>` : null}
      <fieldset class="choice"><legend>As</legend>
        ${ROLES.map((role) => html`<button type="button" aria-pressed=${roles.includes(role)} onClick=${() => setRoles(roles.includes(role) ? roles.filter((one) => one !== role) : [...roles, role])}>${role}</button>`)}
      </fieldset>
      <label>Device, in words <input name="device" autocomplete="off" required maxlength="100" /></label>
      <label>Person, if already in the record (person/…); empty for somebody new <input name="person" autocomplete="off" pattern="person/[0-7][0-9A-HJKMNP-TV-Z]{25}" /></label>
      <p role="status">${said}</p>
      <button type="submit" class="primary" disabled=${keyid === "" || roles.length === 0}>Sign: enrol this key as ${roles.join(", ") || "…"}</button>
    </form>
  `;
}

/** Why a public key cannot be enrolled; null when it can. @param {string} text */
async function whyNot(text) {
  const bytes = fromBase64Of32(text);
  if (!bytes) return "A public key is 44 characters of base64, as the device shows it.";
  const { inadmissible } = await import("../agreement/curve.js");
  return inadmissible(bytes);
}
