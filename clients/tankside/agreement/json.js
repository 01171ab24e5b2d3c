// The strict JSON reader (F4, RFC 7493). What it accepts means the same to every reader. The
// browser's own parser lets duplicate names through and forgets how a number was written, so this
// one reads the text itself.

import { DEPTH_MAX } from "./limits.js";

const NUMBER = /-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?/y;
const ESCAPED = /** @type {Record<string, string>} */ ({ '"': '"', "\\": "\\", "/": "/", b: "\b", f: "\f", n: "\n", r: "\r", t: "\t" });

export class JsonFault extends Error {}

/**
 * @typedef {object} Parsed
 * @property {any} value objects have no prototype, so that no member name is special
 * @property {Map<string, string>} spelled how the numbers among the outermost members were written
 */

/**
 * @typedef {object} Place
 * @property {number} depth of the value to be read; the outermost is 1
 * @property {boolean} inData
 * @property {boolean} remark whether LF and TAB may stand in it
 */

/**
 * Reads one JSON value that fills `text`.
 * @param {string} text
 * @returns {Parsed}
 */
export function parseStrict(text) {
  const reader = new Reader(text);
  const value = reader.value({ depth: 1, inData: false, remark: false });
  reader.space();
  if (reader.at !== text.length) throw new JsonFault("something follows the value");
  return { value, spelled: reader.spelled };
}

class Reader {
  at = 0;
  /** @type {Map<string, string>} */
  spelled = new Map();

  /** @param {string} text */
  constructor(text) {
    this.text = text;
  }

  space() {
    while (" \t\n\r".includes(this.text[this.at] ?? "x")) this.at += 1;
  }

  /** @param {string} character */
  take(character) {
    this.space();
    if (this.text[this.at] !== character) return false;
    this.at += 1;
    return true;
  }

  /** @param {string} character */
  expect(character) {
    if (!this.take(character)) throw new JsonFault(`${JSON.stringify(character)} is missing at character ${this.at}`);
  }

  /** @param {Place} place @returns {any} */
  value(place) {
    this.space();
    const first = this.text[this.at];
    if (first === "{") return this.object(place);
    if (first === "[") return this.array(place);
    if (first === '"') return this.string(place.remark);
    for (const [word, value] of /** @type {[string, any][]} */ ([["true", true], ["false", false], ["null", null]])) {
      if (this.text.startsWith(word, this.at)) {
        this.at += word.length;
        return value;
      }
    }
    return this.number();
  }

  /** @param {Place} place @returns {Place} */
  inside(place) {
    if (place.depth > DEPTH_MAX) throw new JsonFault(`nested deeper than ${DEPTH_MAX}`);
    return { depth: place.depth + 1, inData: place.inData, remark: false };
  }

  /** @param {Place} place */
  object(place) {
    const inner = this.inside(place);
    this.expect("{");
    const members = Object.create(null);
    if (this.take("}")) return members;
    do {
      this.space();
      const name = this.string(false);
      this.expect(":");
      if (name in members) throw new JsonFault(`the member ${JSON.stringify(name)} stands twice`);
      this.space();
      const begin = this.at;
      const inData = place.inData || (place.depth === 1 && name === "data");
      members[name] = this.value({ ...inner, inData, remark: place.inData && name === "remark" });
      if (place.depth === 1 && typeof members[name] === "number") this.spelled.set(name, this.text.slice(begin, this.at));
    } while (this.take(","));
    this.expect("}");
    return members;
  }

  /** @param {Place} place */
  array(place) {
    const inner = this.inside(place);
    this.expect("[");
    /** @type {any[]} */
    const items = [];
    if (this.take("]")) return items;
    do items.push(this.value(inner));
    while (this.take(","));
    this.expect("]");
    return items;
  }

  number() {
    NUMBER.lastIndex = this.at;
    const found = NUMBER.exec(this.text);
    if (!found) throw new JsonFault(`no value at character ${this.at}`);
    this.at += found[0].length;
    const number = Number(found[0]);
    // From 2^53 on every binary64 is a whole number, so this also refuses 1e16.
    if (!Number.isFinite(number) || Math.abs(number) > Number.MAX_SAFE_INTEGER) {
      throw new JsonFault("a whole number beyond 2^53 - 1, or none that is finite");
    }
    return number;
  }

  /** @param {boolean} remark */
  string(remark) {
    if (this.text[this.at] !== '"') throw new JsonFault(`a string is missing at character ${this.at}`);
    this.at += 1;
    let found = "";
    for (;;) {
      const character = this.text[this.at];
      if (character === undefined) throw new JsonFault("a string does not end");
      this.at += 1;
      if (character === '"') break;
      // A raw control character is no JSON, in a remark either.
      if (character < " ") throw new JsonFault("a control character stands raw in a string");
      found += character === "\\" ? this.escape() : character;
    }
    checkCharacters(found, remark);
    return found;
  }

  escape() {
    const kind = this.text[this.at] ?? "";
    this.at += 1;
    if (kind === "u") {
      const digits = this.text.slice(this.at, this.at + 4);
      if (!/^[0-9A-Fa-f]{4}$/.test(digits)) throw new JsonFault("an escape has not four hexadecimal digits");
      this.at += 4;
      return String.fromCharCode(Number.parseInt(digits, 16));
    }
    const plain = Object.hasOwn(ESCAPED, kind) ? ESCAPED[kind] : undefined;
    if (plain === undefined) throw new JsonFault("an escape that JSON does not know");
    return plain;
  }
}

/**
 * No unpaired surrogate, no noncharacter, no control character but LF and TAB in a remark.
 * @param {string} text @param {boolean} remark
 */
function checkCharacters(text, remark) {
  for (const character of text) {
    const code = character.codePointAt(0) ?? 0;
    const control = code < 0x20 || (code >= 0x7f && code <= 0x9f);
    if (control && !(remark && (code === 0x0a || code === 0x09))) throw new JsonFault("a control character in a string; only a remark may hold LF and TAB");
    if (code >= 0xd800 && code <= 0xdfff) throw new JsonFault("an unpaired surrogate in a string");
    if ((code >= 0xfdd0 && code <= 0xfdef) || (code & 0xfffe) === 0xfffe) throw new JsonFault("a noncharacter in a string");
  }
}
