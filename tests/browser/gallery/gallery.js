// Shows one screen of the pages with invented data: `/gallery/?theme=bright#/candling/tank/…`; with
// `?served` over the answers of a service that `serve.mjs` was told of.

import { render } from "preact";
import { useEffect, useState } from "preact/hooks";
import { html } from "/html.js";
import { Frame } from "/shell/frame.js";
import { match } from "/shell/router.js";
import { SCREENS } from "/screens/index.js";
import * as data from "./data.js";
import { inventedNursery, servedNursery } from "./nursery.js";

const asked = new URLSearchParams(location.search);
const nursery = asked.has("served") ? await servedNursery(asked) : inventedNursery(asked);
/** @type {any} */ (globalThis).nursery = nursery;
await begin();

/** What was done before one looks. */
async function begin() {
  if (asked.has("begun")) {
    const eggs = data.TANKS[0]?.eggs ?? [];
    await nursery.act("round.opened.v1", { label: "Tray 1, 25 Nov", what: "candling", eggs, tanks: [data.id("tank", 1)] }, { subject: data.id("round", 1), says: "Begin the round · Tray 1, 25 Nov · 10 cases", correlation: data.id("round", 1) });
    for (const note of nursery.notes) note.state = "waiting";
    for (const egg of eggs.slice(0, Number(asked.get("begun")))) await nursery.act("egg.candled.v1", { seen_into: true, band: 4, movement: "moving" }, { subject: egg, says: "Long gill threads · moving", correlation: data.id("round", 1) });
  }
}

function Gallery() {
  const [hash, setHash] = useState(location.hash || "#/");
  const [loaded, setLoaded] = useState(/** @type {any} */ (null));
  useEffect(() => {
    const changed = () => setHash(location.hash || "#/");
    addEventListener("hashchange", changed);
    return () => removeEventListener("hashchange", changed);
  }, []);
  const found = match(SCREENS, hash);
  useEffect(() => {
    setLoaded(null);
    found?.screen.load().then((module) => setLoaded({ hash, Component: module.default }));
  }, [hash]);
  return html`<${Frame} nursery=${nursery} title=${found?.screen.title ?? "No such screen"} screens=${SCREENS}>
    ${loaded?.hash === hash ? html`<${loaded.Component} key=${hash} nursery=${nursery} params=${found?.params ?? {}} />` : null}
  <//>`;
}

render(html`<${Gallery} />`, /** @type {HTMLElement} */ (document.getElementById("app")));
