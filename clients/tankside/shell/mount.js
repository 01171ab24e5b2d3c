// Puts the pages on the glass: refuses plainly where the browser cannot hold a key, else starts the
// nursery and shows the screen that the address names.

import { render } from "preact";
import { useEffect, useState } from "preact/hooks";
import { unsupported } from "../device/support.js";
import { html } from "../html.js";
import { SCREENS } from "../screens/index.js";
import { Frame } from "./frame.js";
import { useNursery } from "./hooks.js";
import { Tankside } from "./nursery.js";
import { People } from "./people.js";
import { match, pathOf } from "./router.js";
import { watchTouches } from "./touch.js";
import { keepShell } from "./worker-here.js";

/** @import { Screen } from "../contracts.js" */

/** How often it is looked whether somebody still touches the page. */
const LOOK_EVERY_MS = 10_000;

/** The shell's own screens, before those of `screens/`. */
const OWN = /** @type {Screen[]} */ (/** @type {unknown} */ (
  [
    { path: "/people", title: "Who is here", load: async () => ({ default: People }) },
    { path: "/device", title: "This device", load: async () => ({ default: (await import("./device.js")).Device }) },
    { path: "/waiting", title: "Waiting to send", load: async () => ({ default: (await import("./waiting.js")).Waiting }) },
    { path: "/enrol", title: "Enrol a key", load: async () => ({ default: (await import("./enrol.js")).Enrol }) },
    { path: "/sign", title: "For my signature", load: async () => ({ default: (await import("./sign.js")).Sign }) },
    { path: "/settings", title: "Settings", load: async () => ({ default: (await import("./settings.js")).Settings }) },
    { path: "/about", title: "About this record", load: async () => ({ default: (await import("./about.js")).About }) },
  ]
));

/** The nursery of this page, once it has started. @type {Tankside|null} */
export let running = null;

/** @param {HTMLElement} root */
export async function mount(root) {
  const why = await unsupported();
  if (why !== null) {
    render(html`<main class="plain"><h1>These pages cannot work here</h1><p role="alert">${why}</p></main>`, root);
    return;
  }
  const nursery = await Tankside.start();
  running = nursery;
  watchTouches(() => nursery.touched());
  setInterval(() => nursery.checkUntouched(), LOOK_EVERY_MS);
  keepShell();
  render(html`<${Page} nursery=${nursery} />`, root);
}

/** Where nobody has said who they are there is nothing to do but that, or to look at an invented season. @param {Tankside} nursery */
function firstPath(nursery) {
  if (nursery.people.length === 0) return nursery.house?.simulatedClock ? (SCREENS[0]?.path ?? "/about") : "/people";
  if (nursery.person?.standing !== "enrolled") return "/device";
  return SCREENS[0]?.path ?? "/waiting";
}

/** @param {Tankside} nursery @param {string} hash */
function found(nursery, hash) {
  const wanted = pathOf(hash) === "/" ? firstPath(nursery) : hash;
  return match([...OWN, ...SCREENS], wanted) ?? match(OWN, "/about");
}

const NotHere = () => html`<p class="text" role="alert">This screen is not on this device and cannot be fetched now. What was noted is kept; open it again when the service answers.</p>`;

/** @param {{nursery: Tankside}} props */
function Page({ nursery }) {
  useNursery(nursery);
  const [hash, setHash] = useState(location.hash);
  const [shown, setShown] = useState(/** @type {{screen: Screen, component: any, nursery: Tankside}|null} */ (null));
  const at = found(nursery, hash);
  useEffect(() => {
    const changed = () => setHash(location.hash);
    addEventListener("hashchange", changed);
    // It may have changed between the first drawing and now.
    changed();
    return () => removeEventListener("hashchange", changed);
  }, []);
  useEffect(() => {
    if (!at) return undefined;
    let left = false;
    const { screen } = at;
    // The screen is left: what was tapped on it is signed.
    nursery.screenLeft();
    const here = nursery.onScreen();
    // One that is on its way while somebody turns back already is not put on the glass.
    const show = (/** @type {any} */ component) => left || setShown({ screen, component, nursery: here });
    screen.load().then(({ default: component }) => show(component), () => show(NotHere));
    document.title = `${screen.title} · Selachron`;
    return () => void (left = true);
  }, [at?.screen]);
  const ready = at && shown?.screen === at.screen;
  return html`<${Frame} nursery=${nursery} title=${at?.screen.title ?? ""} screens=${SCREENS}>
    ${ready ? html`<${shown.component} nursery=${shown.nursery} params=${at.params} />` : null}
  </${Frame}>`;
}
