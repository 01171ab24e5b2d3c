// The tree that fixes the order: hashes and the checks of proofs of RFC 6962 2.1 and RFC 9162 2.1.

import { concat, equal, sha256 } from "./bytes.js";

/** @param {Uint8Array} leaf */
export const leafHash = (leaf) => sha256(concat(Uint8Array.of(0), leaf));

/** @param {Uint8Array} left @param {Uint8Array} right */
export const nodeHash = (left, right) => sha256(concat(Uint8Array.of(1), left, right));

/** Half, rounded down; sizes may be beyond 2^31, where shifts of numbers fail. @param {number} number */
const half = (number) => Math.floor(number / 2);

/**
 * Checks an inclusion proof (RFC 9162 2.1.3.2).
 * @param {{root: Uint8Array, size: number}} tree
 * @param {number} index @param {Uint8Array} leaf its hash @param {Uint8Array[]} proof
 */
export async function includes(tree, index, leaf, proof) {
  if (index >= tree.size) return false;
  let [at, last, hash] = [index, tree.size - 1, leaf];
  for (const sibling of proof) {
    if (last === 0) return false;
    if (at % 2 === 1 || at === last) {
      hash = await nodeHash(sibling, hash);
      while (at % 2 === 0 && at !== 0) [at, last] = [half(at), half(last)];
    } else {
      hash = await nodeHash(hash, sibling);
    }
    [at, last] = [half(at), half(last)];
  }
  return last === 0 && equal(hash, tree.root);
}

/**
 * Checks that a newer tree only grew from an older one (RFC 9162 2.1.4.2).
 * @param {{root: Uint8Array, size: number}} older @param {{root: Uint8Array, size: number}} newer
 * @param {Uint8Array[]} proof
 */
export async function consistent(older, newer, proof) {
  if (older.size === 0 || older.size > newer.size) return false;
  if (older.size === newer.size) return proof.length === 0 && equal(older.root, newer.root);
  const isPowerOfTwo = Number.isInteger(Math.log2(older.size));
  const [start, ...path] = isPowerOfTwo ? [older.root, ...proof] : proof;
  if (!start) return false;
  let [at, last] = [older.size - 1, newer.size - 1];
  while (at % 2 === 1) [at, last] = [half(at), half(last)];
  let [old, grown] = [start, start];
  for (const hash of path) {
    if (last === 0) return false;
    if (at % 2 === 1 || at === last) {
      old = await nodeHash(hash, old);
      grown = await nodeHash(hash, grown);
      while (at % 2 === 0 && at !== 0) [at, last] = [half(at), half(last)];
    } else {
      grown = await nodeHash(grown, hash);
    }
    [at, last] = [half(at), half(last)];
  }
  return last === 0 && equal(old, older.root) && equal(grown, newer.root);
}

/**
 * The root over leaf hashes, and over every shorter list on the way: `each` is called after each
 * leaf. The root of nothing is the hash of the empty string.
 * @param {Uint8Array[]} leaves their hashes
 * @param {(size: number, root: () => Promise<Uint8Array>) => Promise<void>|void} [each]
 */
export async function rootOf(leaves, each = () => {}) {
  /** Complete subtrees from left to right, each smaller than the one before. @type {{height: number, hash: Uint8Array}[]} */
  const peaks = [];
  const root = async () => {
    const hashes = peaks.map(({ hash }) => hash);
    let whole = hashes.pop() ?? (await sha256(new Uint8Array()));
    for (let left = hashes.pop(); left; left = hashes.pop()) whole = await nodeHash(left, whole);
    return whole;
  };
  for (const [at, leaf] of leaves.entries()) {
    let peak = { height: 0, hash: leaf };
    for (let left = peaks.at(-1); left?.height === peak.height; left = peaks.at(-1)) {
      peaks.pop();
      peak = { height: peak.height + 1, hash: await nodeHash(left.hash, peak.hash) };
    }
    peaks.push(peak);
    await each(at + 1, root);
  }
  return root();
}
