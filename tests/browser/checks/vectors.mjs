// The check data beside the Rust tests, read from disk.

import { readFileSync } from "node:fs";

/** @param {string} name below the top of the tree */
export const json = (name) => JSON.parse(readFileSync(new URL(`../../../${name}`, import.meta.url), "utf8"));

export const vectors = () => ({
  vectors: json("tests/reference/log/log_vectors.json"),
  bad: json("tests/reference/log/bad_envelopes.json"),
  more: json("tests/reference/log/envelopes_more.json"),
});
