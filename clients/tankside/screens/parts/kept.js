// A form that is half filled in is kept on the device, person by person: a reload, a colleague who
// needs the tablet, or a look at another screen in between lose none of it. Signing empties it.

import { useState } from "preact/hooks";
import { html } from "../../html.js";
import { since } from "./days.js";
import { zoneOf } from "./reading.js";

/** @import { Nursery } from "../../contracts.js" */

/**
 * Like `useState`, and kept under the form's name until that is forgotten.
 * @template T
 * @param {Nursery} nursery @param {string} form @param {string} member @param {T|(() => T)} initial
 * @returns {[T, (value: T) => void]}
 */
export function useKept(nursery, form, member, initial) {
  const [value, setValue] = useState(() => {
    const kept = nursery.form(form)?.values ?? {};
    if (member in kept) return /** @type {T} */ (kept[member]);
    return initial instanceof Function ? initial() : initial;
  });
  const set = (/** @type {T} */ next) => {
    setValue(() => next);
    nursery.keepForm(form, member, next);
  };
  return [value, set];
}

/**
 * A form under a name of its own. It is handed `form`, for `useKept`, and `anew`, which forgets what
 * was filled in and begins again: after signing, or when somebody says so.
 * @template {{nursery: Nursery}} T
 * @param {(props: T & {form: string, anew: () => void}) => any} Component @param {(props: T) => string} nameOf
 */
export const keptForm = (Component, nameOf) =>
  function Kept(/** @type {T} */ props) {
    const { nursery } = props;
    const form = nameOf(props);
    const [begun, setBegun] = useState(() => nursery.form(form)?.at_ms ?? null);
    const [turn, setTurn] = useState(0);
    const anew = () => {
      nursery.forgetForm(form);
      setBegun(null);
      setTurn((count) => count + 1);
    };
    return html`
      ${begun === null ? null : html`<p class="kept-form"><span>Begun ${since(begun, nursery.now(), zoneOf(nursery))}, not signed yet. It was kept.</span> <button type="button" class="choice-key" onClick=${anew}>Begin anew</button></p>`}
      <${Component} key=${`${form} ${turn}`} ...${props} form=${form} anew=${anew} />
    `;
  };
