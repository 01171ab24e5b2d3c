// The paths of all screens, read from the list that the pages themselves read.

import { readFileSync } from "node:fs";

const text = readFileSync(new URL("../../../clients/tankside/screens/index.js", import.meta.url), "utf8");

export const SCREENS = [...text.matchAll(/path: "([^"]+)"/g)].map(([, path]) => path ?? "");
