// Reads a tar (POSIX.1-1988 ustar), as the service sends a bundle: plain files, short names.

import { fromUtf8 } from "./bytes.js";

const BLOCK = 512;

/** @param {Uint8Array} header @param {number} from @param {number} length */
const text = (header, from, length) => (fromUtf8(header.slice(from, from + length)) ?? "").split("\0")[0] ?? "";

/**
 * @param {Uint8Array} bytes
 * @returns {Map<string, Uint8Array>} path → contents
 */
export function readTar(bytes) {
  const files = new Map();
  for (let at = 0; at + BLOCK <= bytes.length; ) {
    const header = bytes.subarray(at, at + BLOCK);
    if (header.every((byte) => byte === 0)) break;
    const size = Number.parseInt(text(header, 124, 12).trim(), 8);
    const kind = text(header, 156, 1) || "0";
    if (!Number.isInteger(size) || kind !== "0" || at + BLOCK + size > bytes.length) throw new Error(`the bundle is no tar of plain files (at byte ${at})`);
    const prefix = text(header, 345, 155);
    files.set(prefix === "" ? text(header, 0, 100) : `${prefix}/${text(header, 0, 100)}`, bytes.subarray(at + BLOCK, at + BLOCK + size));
    at += BLOCK + Math.ceil(size / BLOCK) * BLOCK;
  }
  return files;
}
