// Every screen of the pages, in the order in which a day meets them. The router of the shell reads
// this list; a screen is loaded when it is first opened, and kept for off line by the service worker.

/** @import { Screen } from "../contracts.js" */

/** @type {Screen[]} */
export const SCREENS = [
  // The day of a keeper.
  { path: "/", title: "Today", tab: true, load: () => import("./today.js") },
  { path: "/trays", title: "Trays", tab: true, load: async () => ({ default: (await import("./tray.js")).Trays }) },
  { path: "/tray/tank/:tank", title: "Tray", load: () => import("./tray.js") },
  { path: "/candling/tank/:tank", title: "Candling", roundScreen: true, load: () => import("./candling.js") },
  { path: "/candling/egg/:egg", title: "Look again", roundScreen: true, load: () => import("./candling.js") },
  { path: "/case/egg/:egg", title: "Case", load: () => import("./case.js") },
  { path: "/recheck", title: "Recheck", load: () => import("./recheck.js") },
  { path: "/hatched", title: "Hatched", load: () => import("./hatched.js") },
  { path: "/hatched/egg/:egg", title: "Hatched", load: () => import("./hatched.js") },
  { path: "/collect", title: "Collect", roundScreen: true, load: () => import("./collect.js") },
  { path: "/walk", title: "Tank walk", tab: true, roundScreen: true, load: () => import("./walk.js") },
  { path: "/feeding", title: "Feeding", tab: true, roundScreen: true, load: () => import("./feeding.js") },
  { path: "/water", title: "Water", tab: true, roundScreen: true, load: () => import("./water.js") },
  { path: "/young", title: "Young", roundScreen: true, load: () => import("./young.js") },
  { path: "/young/animal/:animal", title: "Young", roundScreen: true, load: () => import("./young.js") },
  { path: "/dead", title: "Found dead", load: () => import("./found-dead.js") },
  { path: "/dead/animal/:animal", title: "Found dead", load: () => import("./found-dead.js") },
  { path: "/happened", title: "Something happened", load: () => import("./happened.js") },
  { path: "/hand-over", title: "Hand-over", load: () => import("./hand-over.js") },
  { path: "/remarks", title: "Remarks to write", load: () => import("./remarks.js") },
  { path: "/sheet/tank/:tank", title: "Round sheet", load: () => import("./sheet.js") },
  { path: "/transcribe/tank/:tank", title: "From paper", roundScreen: true, load: () => import("./transcribe.js") },
  { path: "/labels/tank/:tank", title: "Labels", load: () => import("./labels.js") },
  // The desk of curator, veterinarian and auditor.
  { path: "/weeks", title: "Coming weeks", load: () => import("./desk/weeks.js") },
  { path: "/figures", title: "Figures", load: () => import("./desk/figures.js") },
  { path: "/opening", title: "Opening", load: () => import("./desk/opening.js") },
  { path: "/opening/egg/:egg", title: "Opening", load: () => import("./desk/opening.js") },
  { path: "/put-down/egg/:egg", title: "Put down by decision", load: () => import("./desk/put-down.js") },
  { path: "/as-known", title: "As known on", load: () => import("./desk/as-known.js") },
  { path: "/as-known/:noun/:id", title: "As known on", load: () => import("./desk/as-known.js") },
  { path: "/proof", title: "Proof", load: () => import("./desk/proof.js") },
];
