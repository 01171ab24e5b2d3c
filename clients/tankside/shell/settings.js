// Settings of this device: light, thumb, tones.

import { html } from "../html.js";
import { useNursery } from "./hooks.js";

/** @import { Settings as Kept } from "../contracts.js" */
/** @import { Tankside } from "./nursery.js" */

const DIMMER = ["full light", "a little dimmed", "dimmed", "very dim", "few lit pixels"];

/** @param {{nursery: Tankside}} props */
export function Settings({ nursery }) {
  const { person, settings } = useNursery(nursery);
  return html`
    <section class="text">
      <${Choice} nursery=${nursery} name="theme" legend="Light" options=${[["dark", "dark, for the tray room"], ["bright", "bright, for the office"]]} held=${settings.theme} />
      <${Choice} nursery=${nursery} name="dimmer" legend="Dimmer" options=${DIMMER.map((words, at) => [at, words])} held=${settings.dimmer} />
      <${Choice} nursery=${nursery} name="thumb" legend="Thumb" options=${[["right", "right hand"], ["left", "left hand"]]} held=${settings.thumb} />
      <${Choice} nursery=${nursery} name="tones" legend="Soft tones" options=${[[true, "on"], [false, "off"]]} held=${settings.tones} />
      <p><a class="button" href="#/people">People on this device</a> <a class="button" href="#/device">This device's key</a> <a class="button" href="#/sign">For my signature</a> ${person?.roles.includes("registrar") ? html`<a class="button" href="#/enrol">Enrol a key</a>` : null} <a class="button" href="#/about">About this record</a></p>
    </section>
  `;
}

/** @param {{nursery: Tankside, name: keyof Kept, legend: string, options: [any, string][], held: any}} props */
function Choice({ nursery, name, legend, options, held }) {
  return html`
    <fieldset class="choice">
      <legend>${legend}</legend>
      ${options.map(([value, words]) => html`<button type="button" aria-pressed=${value === held} onClick=${() => nursery.set({ [name]: value })}>${words}</button>`)}
    </fieldset>
  `;
}
