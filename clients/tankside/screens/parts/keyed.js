// A screen that is about another thing now begins anew: what was chosen for the one before is gone.

import { html } from "../../html.js";

/** @import { ScreenProps } from "../../contracts.js" */

/** @param {(props: ScreenProps) => any} Component @returns {(props: ScreenProps) => any} */
export const keyed = (Component) => (props) => html`<${Component} key=${Object.values(props.params).join("/")} ...${props} />`;
