// The store behind all screens: who is in hand, what was noted, what is known. It puts together
// what `device/` does; screens see it as `Nursery` of contracts.js.

import { fromUtf8 } from "../agreement/bytes.js";
import { fingerprint, writeVerifierKey } from "../agreement/note.js";
import { HOUR_MS } from "../agreement/time.js";
import * as approving from "../device/approving.js";
import { now_ms } from "../device/clock.js";
import * as enrolment from "../device/enrolment.js";
import * as files from "../device/files.js";
import { listen } from "../device/live.js";
import * as outbox from "../device/outbox.js";
import * as readings from "../device/readings.js";
import { sendAll } from "../device/sending.js";
import { ask, askJson, askText, newUlid, prover } from "../device/service.js";
import { askToKeep, openStore } from "../device/store.js";
import { Broken, Trouble, Unreachable } from "../device/trouble.js";
import * as trust from "../device/trust.js";
import { alarmOf, checkDraft, countedNote, draftOf, pendingNote } from "./notes-here.js";
import { Session } from "./session.js";

/** @import { House, LocalNote, Nursery, OutboxState, PendingNote, Reading, Saying } from "../contracts.js" */
/** @import { VerifierKey } from "../agreement/note.js" */
/** @import { NoteRow, PendingRow } from "../device/store.js" */

/** How often what waits is tried again. */
const SEND_EVERY_MS = 15_000;
/** Recorded notes are shown with the others for so long. */
const RECORDED_SHOWN_MS = 48 * HOUR_MS;
/** How often the standing of keys is asked. */
const LOOK_UP_KEYS_EVERY_MS = 10 * 60_000;
/** How often lists are read ahead while the log grows. */
const AHEAD_EVERY_MS = 60_000;
/** Lists that a round, a walk or a feed needs, whichever screen is open when the network goes. */
const AHEAD = ["/v1/eggs", "/v1/animals", "/v1/tanks", "/v1/systems", "/v1/species", "/v1/rounds", "/v1/foods", "/v1/instruments", "/v1/incidents", "/v1/duty", "/v1/due?within_hours=12"];
/** The same, asked for as they are: who may decide, and the house's rules. */
const AHEAD_WHOLE = ["/v1/people", "/v1/collection"];
/** How long to wait before listening again. */
const LISTEN_AGAIN_MS = 2_000;
/** Names of values in the store. */
const [HOUSE, BROKEN] = ["house", "broken"];

/** @implements {Nursery} */
export class Tankside extends Session {
  /** @type {House|null} */
  house = null;
  /** @type {OutboxState} */
  outbox = { pending: 0, waiting: 0, refused: 0, oldest_ms: null, alarm: "calm", onLine: true, sending: false, persistent: null };
  /** @type {LocalNote[]} */
  notes = [];

  /** @type {VerifierKey|null} */
  logKey = null;
  /** @type {Map<string, Reading>} */
  #readings = new Map();
  /** Bodies that were read once. @type {Map<string, any>} */
  #bodies = new Map();
  /** @type {Set<() => void>} */
  #grown = new Set();
  /** @type {number|null} */
  #seq = null;
  #keysLooked_ms = 0;
  /** @type {Map<string, LocalNote>} */
  #recorded = new Map();
  #settled_ms = 0;
  #sendAgain = false;
  /** The screen that is open in this window, and those that were. */
  #screen = newUlid();
  /** @type {Set<string>} */
  #left = new Set();
  /** @type {number|null} */
  #aheadSeq = null;
  #ahead_ms = 0;
  /** @type {AbortController|null} */
  #listening = null;

  /** Opens what this device keeps, and begins to send and to listen. */
  static async start() {
    const nursery = new Tankside(await openStore());
    await nursery.#load();
    nursery.#begin();
    return nursery;
  }

  async #load() {
    const value = (/** @type {string} */ name) => this.store.get("values", name);
    await this.loadSession();
    this.logKey = await trust.pinned(this.store);
    this.house = (await value(HOUSE)) ?? null;
    const broken = await value(BROKEN);
    if (broken) this.outbox = { ...this.outbox, broken };
    for (const row of await readings.kept(this.store)) this.#readings.set(row.path, { ...row, fresh: false });
    await outbox.signUnsigned(this.store);
    await this.refresh();
  }

  #begin() {
    setInterval(() => this.tick(), SEND_EVERY_MS);
    addEventListener("online", () => this.tick());
    document.addEventListener("visibilitychange", () => (document.visibilityState === "visible" ? this.tick() : this.settle()));
    addEventListener("pagehide", () => this.settle());
    this.tick();
    this.#listenOn();
    askToKeep().then((persistent) => this.#change({ persistent }));
  }

  /** @param {Partial<OutboxState>} change */
  #change(change) {
    this.outbox = { ...this.outbox, ...change };
    this.notify();
  }

  /** Reads notes and counts anew from the store. @override */
  async refresh() {
    const at_ms = now_ms();
    const [pending, waiting, refused, recorded] = await Promise.all([
      this.store.getAll("pending"),
      this.store.getAll("waiting"),
      this.store.getAll("refused"),
      // Only what is new since it was last read: a day's receipts are many.
      this.store.getAllFromIndex("recorded", "settled", IDBKeyRange.lowerBound(Math.max(this.#settled_ms, at_ms - RECORDED_SHOWN_MS))),
    ]);
    for (const row of recorded) {
      this.#recorded.set(row.id, this.#noteOf(row, "recorded"));
      this.#settled_ms = Math.max(this.#settled_ms, row.settled_ms ?? 0);
    }
    const told = [...pending.map(pendingNote), ...waiting.map((row) => this.#noteOf(row, "waiting")), ...refused.map((row) => this.#noteOf(row, "refused")), ...this.#recorded.values()];
    this.notes = told.sort((a, b) => a.tapped_ms - b.tapped_ms || (a.id < b.id ? -1 : 1));
    // What waits at the service for others is not overdue here.
    const oldest_ms = waiting.filter(({ offered }) => offered === undefined).reduce((oldest, { tapped_ms }) => Math.min(oldest, tapped_ms), Infinity);
    const counts = { pending: pending.length, waiting: waiting.length, refused: refused.filter(({ read_ms }) => read_ms === undefined).length, oldest_ms: Number.isFinite(oldest_ms) ? oldest_ms : null };
    this.#change({ ...counts, alarm: alarmOf({ ...this.outbox, ...counts }, at_ms) });
  }

  /** @param {NoteRow} row @param {LocalNote["state"]} state */
  #noteOf(row, state) {
    const body = this.#bodies.get(row.id) ?? JSON.parse(fromUtf8(row.body) ?? "{}");
    this.#bodies.set(row.id, body);
    return countedNote(row, body, state);
  }

  /** Whose tokens read. @returns {import("../device/service.js").Reader|null} */
  get reader() {
    const key = this.keyRows.find(({ keyid, standing }) => keyid === this.person?.keyid && standing === "enrolled");
    return key && this.logKey ? { key, origin: this.logKey.name } : null;
  }

  /**
   * @param {string} type @param {Record<string, any>} data @param {Saying} saying @param {string} [screen]
   * @returns {Promise<PendingNote>}
   */
  async act(type, data, saying, screen = this.#screen) {
    const { person, logKey } = this;
    if (!person || !logKey) throw new Trouble("Nobody is in hand: say who you are first.");
    if (person.standing !== "enrolled") throw new Trouble(person.standing === "made" ? "This key is not enrolled yet; a registrar enrols it." : "This key is no longer in force; have a new one enrolled.");
    const at_ms = now_ms();
    /** @type {PendingRow} */
    const row = { id: newUlid(), keyid: person.keyid, draft: draftOf(type, data, saying, at_ms), says: saying.says, group: saying.group ?? saying.subject, screen, tapped_ms: at_ms };
    row.draft.id = row.id;
    checkDraft(row, logKey);
    await outbox.tap(this.store, row);
    await this.told();
    if (this.#left.has(screen)) this.#signLeft();
    else this.#signDue(saying.atOnce ? row.id : null);
    setTimeout(() => this.#signDue(null), outbox.TAKE_BACK_MS + 100);
    return { ...pendingNote(row), takeBack: () => this.#takeBack((one) => one.id === row.id) };
  }

  /** @param {string|null} id a note that is not to wait */
  #signDue(id) {
    // What was tapped before it goes first: it may be what this note is about.
    const until_ms = (/** @type {PendingRow[]} */ rows) => rows.find((row) => row.id === id)?.tapped_ms ?? -1;
    return this.#sign((rows) => [...new Set([...outbox.due(rows, now_ms()), ...rows.filter(({ tapped_ms }) => tapped_ms <= until_ms(rows))])]);
  }

  /** @param {string} group */
  takeBack(group) {
    return this.#takeBack((row) => row.group === group);
  }

  /** @param {(row: PendingRow) => boolean} which */
  async #takeBack(which) {
    const gone = await outbox.takeBack(this.store, which);
    await this.told();
    return gone;
  }

  /** @override */
  settle() {
    return this.#sign((rows) => rows);
  }

  /**
   * This nursery as one screen sees it: what is noted through it is known to be that screen's, also
   * what the screen's last tap writes when it has been left already.
   * @returns {Tankside}
   */
  onScreen() {
    const screen = this.#screen;
    /** @type {Map<PropertyKey, any>} */
    const bound = new Map([["act", (/** @type {string} */ type, /** @type {any} */ data, /** @type {Saying} */ saying) => this.act(type, data, saying, screen)]]);
    return new Proxy(this, {
      get(nursery, name) {
        const value = bound.get(name) ?? Reflect.get(nursery, name, nursery);
        if (typeof value !== "function" || bound.has(name)) return value;
        bound.set(name, value.bind(nursery));
        return bound.get(name);
      },
    });
  }

  /** The screen is left: what was tapped on it is signed. */
  screenLeft() {
    this.#left.add(this.#screen);
    this.#screen = newUlid();
    return this.#signLeft();
  }

  #signLeft() {
    return this.#sign((rows) => rows.filter(({ screen }) => this.#left.has(screen)));
  }

  /** @param {(rows: PendingRow[]) => PendingRow[]} which */
  #sign(which) {
    return this.#guarded(async (logKey) => {
      if ((await outbox.signPending(this.store, logKey, which)) > 0) await this.#sendNow();
    });
  }

  /** Signs what is due and sends what waits. */
  async tick() {
    if (!this.logKey) await this.meet().catch(() => {});
    await this.#signDue(null);
    await this.#sendNow();
    if (now_ms() - this.#keysLooked_ms > LOOK_UP_KEYS_EVERY_MS) await this.lookUpKeys();
    await this.#readAhead();
  }

  /** Reads what will be needed when the network goes, once it is known that there is something new. */
  async #readAhead() {
    const isNew = this.#seq !== this.#aheadSeq && now_ms() - this.#ahead_ms > AHEAD_EVERY_MS;
    if (!this.reader || !this.outbox.onLine || !isNew) return;
    [this.#aheadSeq, this.#ahead_ms] = [this.#seq, now_ms()];
    for (const whole of [...AHEAD.map((path) => `${path}${path.includes("?") ? "&" : "?"}limit=1000`), ...AHEAD_WHOLE]) {
      // What the roles of this key do not read is no trouble.
      await this.read(whole).catch(() => null);
      if (!this.outbox.onLine) return;
    }
  }

  /** First contact: pins the log key. Its fingerprint is shown, to be compared with the registrar's. */
  async meet() {
    this.logKey = await trust.pin(this.store, await askText("/v1/log/key"));
    this.#change({ onLine: true });
    await this.#lookUpHouse();
  }

  /** @returns {Promise<void>} */
  async #lookUpHouse() {
    const { logKey } = this;
    if (!logKey) return;
    let said = {};
    try {
      said = (await readings.ask(this.store, "/v1/collection", this.reader)).body;
    } catch (error) {
      // Before a key is enrolled the service tells no more than its log key.
      if (!(error instanceof Trouble) || error instanceof Broken) throw error;
      if (this.house) return;
    }
    const { log_vkey } = /** @type {any} */ (said);
    if (log_vkey !== undefined && log_vkey !== writeVerifierKey(logKey)) {
      this.logKey = await trust.goOn(this.store, logKey, log_vkey, () => askJson("/v1/log/rekeyed", this.reader), prover(this.reader));
      return this.#lookUpHouse();
    }
    const { name = logKey.name, time_zone: timeZone = Intl.DateTimeFormat().resolvedOptions().timeZone, simulated_clock = false } = /** @type {any} */ (said);
    this.house = { name, origin: logKey.name, timeZone, fingerprint: await fingerprint(logKey), simulatedClock: simulated_clock === true };
    await this.store.put("values", this.house, HOUSE);
    this.notify();
  }

  /** Asks how the keys on this device stand. */
  async lookUpKeys() {
    const { logKey } = this;
    if (!logKey) return;
    this.#keysLooked_ms = now_ms();
    if (this.reader) await this.#lookUpHouse().catch((error) => this.#heard(error));
    const before = JSON.stringify(this.people);
    for (const key of this.keyRows) await enrolment.lookUp(this.store, { key, origin: logKey.name }).catch((error) => this.#heard(error));
    await this.loadPeople(this.person?.keyid);
    if (JSON.stringify(this.people) !== before) await this.told();
  }

  /** @param {unknown} error */
  #heard(error) {
    if (error instanceof Unreachable) this.#change({ onLine: false });
    else if (error instanceof Broken) this.#breaks(error.message);
  }

  /** @param {string} sentence */
  async #breaks(sentence) {
    await this.store.put("values", sentence, BROKEN);
    this.outbox = { ...this.outbox, broken: sentence };
    await this.told();
  }

  /** A person has looked at what did not hold, and wants it tried again. */
  async tryAgain() {
    await this.store.delete("values", BROKEN);
    const { broken: _, ...rest } = this.outbox;
    this.outbox = rest;
    await this.told();
    await this.tick();
  }

  /** @param {boolean} [grown] */
  async #sendNow(grown = false) {
    this.#sendAgain = this.outbox.sending;
    if (this.outbox.broken || this.outbox.sending || !this.logKey) return;
    this.#change({ sending: true });
    await this.#guarded(async (logKey) => {
      const any = (await outbox.signed(this.store)).length > 0;
      await sendAll(this.store, logKey, this.reader, grown);
      await files.sendFiles(this.store, this.reader);
      if (any) this.outbox.onLine = true;
    });
    this.outbox.sending = false;
    await this.told();
    if (this.#sendAgain) await this.#sendNow();
  }

  /** Does what needs the log key; what goes wrong is shown and nothing is lost. @param {(logKey: VerifierKey) => Promise<void>} work */
  async #guarded(work) {
    if (!this.logKey) return;
    try {
      await work(this.logKey);
    } catch (error) {
      if (!(error instanceof Trouble)) console.error(error);
      this.#heard(error);
    }
  }

  /** @param {string} path */
  reading(path) {
    return this.#readings.get(path) ?? null;
  }

  /** @param {string} path @returns {Promise<Reading>} */
  async read(path) {
    try {
      const arrived = { ...(await readings.ask(this.store, path, this.reader)), fresh: true };
      const row = readings.newer(arrived, this.#readings.get(path));
      this.#readings.set(path, row);
      this.#change({ onLine: true });
      return row;
    } catch (error) {
      this.#heard(error);
      const kept = this.#readings.get(path);
      if (!kept || !(error instanceof Unreachable)) throw error;
      return kept;
    }
  }

  /** @param {string} path */
  async fetchFile(path) {
    const [, sha256] = /^\/v1\/evidence\/([0-9a-f]{64})$/.exec(path) ?? [];
    const kept = sha256 === undefined ? undefined : await this.store.get("files", sha256);
    return kept ? kept.blob : (await ask(path, {}, this.reader)).blob();
  }

  /** @param {Blob} file */
  keepFile(file) {
    return files.keep(this.store, file);
  }

  /** @param {(check: import("../contracts.js").Check) => void} tell */
  async prove(tell) {
    const { logKey } = this;
    if (!logKey) throw new Trouble("This device has not met a service yet.");
    // Fetched when it is wanted: nobody needs it to start.
    const [{ audit }, { readTar }, { parseReceipt }] = await Promise.all([import("../agreement/audit.js"), import("../agreement/tar.js"), import("../agreement/receipt.js")]);
    // What was seen is read first: the record only grows.
    const seen = await trust.newest(this.store);
    const receipts = (await this.store.getAll("recorded")).flatMap(({ receipt }) => (receipt === undefined ? [] : [parseReceipt(receipt)]));
    const bundle = await (await ask("/v1/log/bundle", {}, this.reader)).arrayBuffer();
    return audit(readTar(new Uint8Array(bundle)), { logKey, seen, receipts }, tell);
  }

  /** @param {Blob} photo */
  async keepPhoto(photo) {
    return (await import("../device/photo.js")).keepPhoto(this.store, photo);
  }

  /** @param {() => void} listener */
  onGrown(listener) {
    this.#grown.add(listener);
    return () => void this.#grown.delete(listener);
  }

  /** @override */
  async personChanged() {
    this.#listening?.abort();
    await this.#lookUpHouse().catch((error) => this.#heard(error));
  }

  /** Listens for the log's growth as long as the page lives; a service that restarts is found again. */
  async #listenOn() {
    for (;;) {
      this.#listening = new AbortController();
      const hear = (/** @type {number} */ seq) => {
        this.outbox.onLine = true;
        if (seq === this.#seq) return;
        this.#seq = seq;
        this.#readAhead();
        this.#grown.forEach((listener) => listener());
        if (this.notes.some(({ state, wants }) => state === "waiting" && wants)) this.#sendNow(true);
      };
      if (this.logKey && (this.reader || this.people.length === 0)) await listen(this.reader, this.#seq, hear, this.#listening.signal).catch(() => {});
      await new Promise((again) => setTimeout(again, LISTEN_AGAIN_MS));
    }
  }

  // Enrolling.

  /** The enrolment that waits for this person's key. */
  async findOffer() {
    const key = this.keyRows.find(({ keyid }) => keyid === this.person?.keyid);
    if (!this.logKey) await this.meet();
    return key && this.logKey ? enrolment.findOffer({ key, origin: this.logKey.name }) : null;
  }

  /** Signs it. @param {approving.Offer} offer */
  async signOffer(offer) {
    const key = this.keyRows.find(({ keyid }) => keyid === this.person?.keyid);
    if (!key || !this.logKey) throw new Trouble("Nobody is in hand: say who you are first.");
    const done = await enrolment.signOffer(this.store, this.logKey, key, offer);
    await this.inHand(key.keyid);
    return done;
  }

  // What waits, as a file.

  async saveWaiting() {
    await this.settle();
    return outbox.saved(this.store);
  }

  /** @param {string} text */
  async loadWaiting(text) {
    if (!this.logKey) throw new Trouble("This device has not met a service yet, so it cannot tell whose notes these are.");
    const fresh = await outbox.loadSaved(this.store, text, this.logKey.name);
    await this.told();
    await this.#sendNow();
    return fresh;
  }

  /** A person has read why a note was refused. @param {string} id */
  async markRead(id) {
    await outbox.markRead(this.store, id);
    await this.told();
  }

  // What wants another person's signature.

  /** Notes by others that want this person's signature. */
  async forMe() {
    return this.reader ? approving.forMe(this.reader) : [];
  }

  /** Signs one of them; answers whether it is recorded now. @param {approving.Offer} offer */
  async approve(offer) {
    const { reader, logKey } = this;
    if (!reader || !logKey) throw new Trouble("Nobody is in hand whose key is enrolled.");
    const done = await approving.approve(this.store, logKey, reader.key, offer);
    await this.told();
    return done;
  }

  /** The bytes of a note, as text; of one that is not signed yet, as they would be. @param {string} id */
  async bodyOf(id) {
    for (const name of /** @type {const} */ (["waiting", "refused", "recorded"])) {
      const row = await this.store.get(name, id);
      if (row) return outbox.bodyText(row);
    }
    return null;
  }

  /** @param {string} id */
  async receiptOf(id) {
    return (await this.store.get("recorded", id))?.receipt ?? null;
  }
}
