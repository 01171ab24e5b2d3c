// The agreement in node; tests/browser/journeys runs the same checks in the page.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { CHECKS, load } from "../checks/agreement.mjs";
import { vectors } from "../checks/vectors.mjs";

const modules = await load(new URL("../../../clients/tankside/agreement/", import.meta.url).href);
const files = vectors();

for (const [name, check] of CHECKS) test(name, () => check(modules, files));

test("limits are those of the agreement", () => {
  const text = readFileSync(new URL("../../../schemas/src/limits.rs", import.meta.url), "utf8");
  const said = new Map([...text.matchAll(/pub const (\w+): \w+ = ([^;]+);/g)].map(([, name, value]) => [name ?? "", value ?? ""]));
  const number = (/** @type {string} */ value) => value.replaceAll("_", "").split("*").reduce((product, factor) => product * Number(factor), 1);
  const limits = Object.entries(modules.limits);
  assert.ok(limits.length > 10);
  for (const [name, value] of limits) assert.equal(value, number(said.get(name) ?? "NaN"), name);
});
