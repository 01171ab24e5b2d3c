// What is always on the glass: whose name is in hand, what waits to be sent, *wipe*; and, below, the
// way to the screens.

import { useEffect, useState } from "preact/hooks";
import { HOUR_MS, MINUTE_MS } from "../agreement/time.js";
import { html } from "../html.js";
import { useNursery } from "./hooks.js";
import { Here } from "./people.js";
import { WIPE_MS } from "./touch.js";
import { newerPages, onNewerPages, takeNewerPages } from "./worker-here.js";

/** @import { OutboxState, Screen, Settings } from "../contracts.js" */
/** @import { Tankside } from "./nursery.js" */

/** @param {{nursery: Tankside, title: string, screens: Screen[], children?: any}} props */
export function Frame({ nursery, title, screens, children }) {
  const { asks, house, person, settings } = useNursery(nursery);
  const [wiping, setWiping] = useState(false);
  useEffect(() => dress(settings), [settings]);
  const wipe = () => {
    setWiping(true);
    setTimeout(() => setWiping(false), WIPE_MS);
  };
  return html`
    <div class="frame" inert=${wiping || asks}>
      <header class="bar">
        <a class="bar-name" href="#/people" aria-label=${person ? `In hand: ${person.name}. Change` : "Nobody is in hand. Choose"}><span class="bar-who">${person?.name ?? "Nobody"}</span></a>
        <h1 class="bar-title">${title}${person?.roles.includes("trainee") ? " · trainee" : ""}</h1>
        <${Indicator} outbox=${nursery.outbox} now=${nursery.now()} />
        <button class="bar-wipe" type="button" onClick=${wipe}>Wipe</button>
      </header>
      ${house?.simulatedClock ? html`<p class="notice">An invented season with a simulated clock.</p>` : null}
      <${NewerPages} />
      <main class="screen" tabindex="-1">${children}</main>
      <nav class="tabs" aria-label="Screens">
        ${screens.filter(({ tab }) => tab).map(({ path, title: name }) => html`<a href=${`#${path}`} aria-current=${name === title ? "page" : null}>${name}</a>`)}
        <a href="#/settings" aria-current=${title === "Settings" ? "page" : null}>Settings</a>
      </nav>
    </div>
    ${wiping ? html`<div class="cover" role="status"><p>The glass is dead for ${WIPE_MS / 1000} seconds: wipe it.</p></div>` : null}
    ${asks && !wiping ? html`<div class="cover"><${Here} nursery=${nursery} /></div>` : null}
  `;
}

/** Theme, dimmer and thumb are told to the stylesheet. @param {Settings} settings */
function dress({ theme, dimmer, thumb }) {
  Object.assign(document.documentElement.dataset, { theme, dimmer: String(dimmer), thumb });
}

/** @param {{outbox: OutboxState, now: number}} props */
function Indicator({ outbox, now }) {
  return html`<a class="bar-waiting" href="#/waiting" data-alarm=${outbox.alarm}><span role="status">${words(outbox, now)}</span></a>`;
}

/**
 * What waits, in words; calm when off line.
 * @param {OutboxState} outbox @param {number} now_ms
 */
export function words(outbox, now_ms) {
  const away = outbox.onLine ? "" : "off line · ";
  if (outbox.alarm === "broken") return "stopped: look here";
  if (outbox.refused > 0) return `${away}${outbox.refused} refused`;
  const count = outbox.pending + outbox.waiting;
  if (count === 0) return outbox.onLine ? "all recorded" : "off line · nothing waits";
  const age = outbox.oldest_ms === null ? "" : ` · ${ageWords(now_ms - outbox.oldest_ms)}`;
  return `${away}${count} to send${age}`;
}

/** @param {number} ms */
export function ageWords(ms) {
  if (ms < MINUTE_MS) return "just now";
  if (ms < HOUR_MS) return `${Math.floor(ms / MINUTE_MS)} min`;
  return ms < 48 * HOUR_MS ? `${Math.floor(ms / HOUR_MS)} h` : `${Math.floor(ms / (24 * HOUR_MS))} days`;
}

function NewerPages() {
  const [there, setThere] = useState(newerPages());
  useEffect(() => onNewerPages(() => setThere(true)), []);
  return there ? html`<p class="notice"><button type="button" onClick=${takeNewerPages}>Newer pages are here: load them</button></p>` : null;
}
