// Several people, one tablet. Each has a key of its own; changing who is in hand is two taps and a
// short code.

import { useState } from "preact/hooks";
import { html } from "../html.js";
import { useNursery } from "./hooks.js";

/** @import { Person } from "../contracts.js" */
/** @import { Tankside } from "./nursery.js" */

/** @param {Person} person */
export function standingWords({ standing, roles }) {
  if (standing === "made") return "key made here, not enrolled yet";
  return standing === "ended" ? "key no longer in force" : roles.join(", ");
}

/** @param {{nursery: Tankside}} props */
export function People({ nursery }) {
  const { people, person } = useNursery(nursery);
  const [chosen, setChosen] = useState(/** @type {Person|null} */ (null));
  if (people.length === 0) return html`<${NewPerson} nursery=${nursery} first=${true} />`;
  if (chosen) return html`<${Code} nursery=${nursery} person=${chosen} done=${() => nursery.navigate("#/")} back=${() => setChosen(null)} />`;
  return html`
    <section class="list" aria-label="People on this device">
      ${people.map((one) => html`<button type="button" class="row" aria-pressed=${one.keyid === person?.keyid} onClick=${() => setChosen(one)}><b>${one.name}</b> <span>${standingWords(one)}</span></button>`)}
    </section>
    <${NewPerson} nursery=${nursery} first=${false} />
  `;
}

/**
 * The short code, on big keys.
 * @param {{nursery: Tankside, person: Person, done: () => void, back?: () => void}} props
 */
function Code({ nursery, person, done, back }) {
  const [digits, setDigits] = useState("");
  const [wrong, setWrong] = useState(false);
  const enter = async () => {
    if (await nursery.choose(person.keyid, digits)) return done();
    nursery.tone("no");
    setWrong(true);
    setDigits("");
  };
  return html`
    <section class="code" aria-label=${`Short code of ${person.name}`}>
      <h2>${person.name}</h2>
      <p class="code-dots" role="status">${wrong ? "That is not the code." : `${digits.length} digits`}</p>
      <div class="pad">
        ${["1", "2", "3", "4", "5", "6", "7", "8", "9", "0"].map((digit) => html`<button type="button" class="pad-key" onClick=${() => (setWrong(false), setDigits((text) => (text + digit).slice(0, 8)))}>${digit}</button>`)}
        <button type="button" class="pad-key" aria-label="Clear" onClick=${() => setDigits("")}>×</button>
        <button type="button" class="pad-key primary" disabled=${digits.length < 4} onClick=${enter}>Enter</button>
      </div>
      ${back ? html`<button type="button" onClick=${back}>Somebody else</button>` : null}
    </section>
  `;
}

/** After a quarter of an hour untouched. @param {{nursery: Tankside}} props */
export function Here({ nursery }) {
  const { people, person } = useNursery(nursery);
  const [other, setOther] = useState(/** @type {Person|null} */ (null));
  const shown = other ?? person;
  if (!shown) return null;
  return html`
    <section class="here" aria-label="Who is here?">
      <h2>Nobody touched this page for a while. Who is here?</h2>
      <${Code} key=${shown.keyid} nursery=${nursery} person=${shown} done=${() => setOther(null)} />
      ${people.length > 1 ? html`<div class="list">${people.filter(({ keyid }) => keyid !== shown.keyid).map((one) => html`<button type="button" class="row" onClick=${() => setOther(one)}>${one.name}</button>`)}</div>` : null}
    </section>
  `;
}

/** @param {{nursery: Tankside, first: boolean}} props */
function NewPerson({ nursery, first }) {
  const [open, setOpen] = useState(first);
  const [trouble, setTrouble] = useState("");
  const make = async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    const form = new FormData(/** @type {HTMLFormElement} */ (event.currentTarget));
    try {
      await nursery.newPerson(String(form.get("name")), String(form.get("code")));
      nursery.navigate("#/device");
    } catch (error) {
      setTrouble(/** @type {Error} */ (error).message);
    }
  };
  if (!open) return html`<button type="button" onClick=${() => setOpen(true)}>Another person uses this device</button>`;
  return html`
    <form class="form" onSubmit=${make}>
      <h2>${first ? "Nobody can sign on this device yet" : "A key for another person"}</h2>
      <p>A key is made here and never leaves this device. A registrar then enrols it.</p>
      <label>Name, as it is shown on this device <input name="name" autocomplete="off" required maxlength="100" /></label>
      <label>Short code, 4 to 8 digits <input name="code" inputmode="numeric" pattern="[0-9]{4,8}" autocomplete="off" required /></label>
      <p class="hint">The code keeps two people's hands apart. It does not protect a tablet that was taken away: tell the registrar, who revokes the key.</p>
      ${trouble ? html`<p role="alert" class="trouble">${trouble}</p>` : null}
      <button type="submit" class="primary">Make the key</button>
    </form>
  `;
}
