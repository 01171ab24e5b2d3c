// Who is at the page: the people whose keys are on this device, who is in hand, whether anybody still
// is; settings; and telling all windows of this device that something changed.

import { HOUR_MS } from "../agreement/time.js";
import { now_ms } from "../device/clock.js";
import * as keys from "../device/keys.js";
import { newUlid } from "../device/service.js";
import { sound } from "./tones.js";

/** @import { KeptForm, Looked, Person, Settings } from "../contracts.js" */
/** @import { KeyRow, Store } from "../device/store.js" */

/** After so long untouched the page asks who is there. */
export const UNTOUCHED_MS = 15 * 60_000;
/** How often the touch is remembered beyond this window. */
const TOUCH_KEPT_EVERY_MS = 30_000;
/** @type {Settings} */
const SETTINGS = { theme: "dark", dimmer: 0, thumb: "right", tones: true };
/** Names of values in the store. */
const [IN_HAND, SETTINGS_KEPT, TOUCHED, FORM, LOOKED] = ["in-hand", "settings", "touched", "form ", "looked "];
/** A form that nobody went on with is forgotten when the device starts. */
const FORM_KEPT_MS = 48 * HOUR_MS;

export class Session {
  /** @type {Person|null} */
  person = null;
  /** @type {Person[]} */
  people = [];
  settings = SETTINGS;
  /** Whether the page must ask who is there. */
  asks = false;
  /** @type {KeyRow[]} */
  keyRows = [];
  /** @type {Set<() => void>} */
  #listeners = new Set();
  /** Forms that are half filled in, and what was looked at last, by the name under which they are stored. @type {Map<string, any>} */
  #kept = new Map();
  #touched_ms = now_ms();
  #touchKept_ms = 0;
  #windows = new BroadcastChannel("selachron");

  /** @param {Store} store */
  constructor(store) {
    this.store = store;
    this.#windows.addEventListener("message", () => this.#changedElsewhere());
  }

  /** Reads notes anew. */
  async refresh() {}

  /** Signs all that is pending. */
  async settle() {}

  /** Somebody else is in hand. */
  async personChanged() {}

  async loadSession() {
    const value = (/** @type {string} */ name) => this.store.get("values", name);
    this.settings = { ...SETTINGS, ...(await value(SETTINGS_KEPT)) };
    const touched_ms = (await value(TOUCHED)) ?? 0;
    await this.loadPeople(await value(IN_HAND));
    await this.#loadKept();
    this.asks = this.person !== null && now_ms() - touched_ms > UNTOUCHED_MS;
  }

  async #loadKept() {
    const [names, values] = await Promise.all([this.store.getAllKeys("values"), this.store.getAll("values")]);
    for (const [at, name] of names.map(String).entries()) {
      if (name.startsWith(FORM) && now_ms() - values[at].at_ms > FORM_KEPT_MS) await this.store.delete("values", name);
      else if (name.startsWith(FORM) || name.startsWith(LOOKED)) this.#kept.set(name, values[at]);
    }
  }

  /** Each person's own. @param {string} kind @param {string} name */
  #ownName(kind, name) {
    return `${kind}${this.person?.keyid ?? "nobody"} ${name}`;
  }

  /** What is filled in of a form. @param {string} name @returns {KeptForm|null} */
  form(name) {
    return this.#kept.get(this.#ownName(FORM, name)) ?? null;
  }

  /** @param {string} name @param {string} member @param {any} value */
  keepForm(name, member, value) {
    const own = this.#ownName(FORM, name);
    const before = this.#kept.get(own);
    const kept = { at_ms: before?.at_ms ?? now_ms(), values: { ...before?.values, [member]: value } };
    this.#kept.set(own, kept);
    const write = this.store.transaction("values", "readwrite");
    write.store.put(kept, own);
    // Not left to the page to end: one that is reloaded a moment later would take it along.
    write.commit();
  }

  /** It is signed, or given up. @param {string} name */
  forgetForm(name) {
    const own = this.#ownName(FORM, name);
    if (this.#kept.delete(own)) this.store.delete("values", own);
  }

  /** When this person last said to have looked at something, and how many notes were known then. @param {string} what @returns {Looked|null} */
  looked(what) {
    return this.#kept.get(this.#ownName(LOOKED, what)) ?? null;
  }

  /** @param {string} what @param {number} known_at */
  lookedNow(what, known_at) {
    const [own, now] = [this.#ownName(LOOKED, what), { at_ms: now_ms(), known_at }];
    this.#kept.set(own, now);
    this.store.put("values", now, own);
    this.notify();
  }

  /** @param {string|undefined} inHand */
  async loadPeople(inHand) {
    this.keyRows = await keys.allKeys(this.store);
    this.people = this.keyRows.map(keys.personOf);
    this.person = this.people.find(({ keyid }) => keyid === inHand) ?? null;
  }

  async #changedElsewhere() {
    this.settings = { ...SETTINGS, ...(await this.store.get("values", SETTINGS_KEPT)) };
    await this.loadPeople(this.person?.keyid);
    await this.refresh();
  }

  /** Tells this window, and the others. */
  async told() {
    await this.refresh();
    this.#windows.postMessage("changed");
  }

  /** How often something changed. */
  changes = 0;

  notify() {
    this.changes += 1;
    this.#listeners.forEach((listener) => listener());
  }

  now() {
    return now_ms();
  }

  /** @param {string} noun */
  newSubject(noun) {
    return `${noun}/${newUlid()}`;
  }

  /** @param {Partial<Settings>} change */
  async set(change) {
    this.settings = { ...this.settings, ...change };
    await this.store.put("values", this.settings, SETTINGS_KEPT);
    this.notify();
    this.#windows.postMessage("changed");
  }

  /** @param {string} hash */
  navigate(hash) {
    location.hash = hash;
  }

  /** @param {"still"|"moving"|"loss"|"done"|"no"} kind */
  tone(kind) {
    if (this.settings.tones) sound(kind);
  }

  /** @param {() => void} listener */
  subscribe(listener) {
    this.#listeners.add(listener);
    return () => void this.#listeners.delete(listener);
  }

  /** Makes a key for a person and takes it in hand. @param {string} name @param {string} code */
  async newPerson(name, code) {
    const row = await keys.makeKey(this.store, name, code);
    await this.inHand(row.keyid);
    return row.keyid;
  }

  /** Changes who is in hand; answers whether the code was right. @param {string} keyid @param {string} code */
  async choose(keyid, code) {
    const row = this.keyRows.find((one) => one.keyid === keyid);
    if (!row || !(await keys.opens(row, code))) return false;
    // What the person before tapped is signed by that person's key.
    await this.settle();
    await this.inHand(keyid);
    return true;
  }

  /** @param {string} keyid */
  async inHand(keyid) {
    await this.store.put("values", keyid, IN_HAND);
    await this.loadPeople(keyid);
    this.asks = false;
    this.touched();
    await this.personChanged();
    await this.told();
  }

  /** Somebody touched the page. */
  touched() {
    this.#touched_ms = now_ms();
    if (this.asks || this.#touched_ms - this.#touchKept_ms < TOUCH_KEPT_EVERY_MS) return;
    this.#touchKept_ms = this.#touched_ms;
    this.store.put("values", this.#touched_ms, TOUCHED);
  }

  /** Asks who is there, if nobody has touched the page for long. */
  checkUntouched() {
    if (this.asks || !this.person || now_ms() - this.#touched_ms <= UNTOUCHED_MS) return;
    this.asks = true;
    this.notify();
  }
}
