// Every screen of the pages, in the order in which a day meets them. The router of the shell reads
// this list; a screen is loaded when it is first opened, and kept for off line by the service worker.

/** @import { Screen } from "../contracts.js" */

/** @type {Screen[]} */
export const SCREENS = [];
