// Where the pages begin.

import { mount } from "./shell/mount.js";

mount(/** @type {HTMLElement} */ (document.getElementById("app")));
