// What templates are written with: `html` turns a tagged template into Preact's elements.
// `tsc` does not look into templates; what a component is given is checked where it is made.

import { h } from "preact";
import htm from "htm";

export const html = htm.bind(h);
