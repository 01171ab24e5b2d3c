// A nursery of invented answers: what screens are handed when there is no service. Notes stay in the
// page and wait.

import * as data from "./data.js";

/** @import { LocalNote, Nursery, Reading } from "../../../clients/tankside/contracts.js" */

const CLOCKS = { as_of: new Date(data.NOW_MS).toISOString(), known_at: 1000, root: "kxgoTCzmwMm+kIz7jNkqq77hq7QDafMZb13NdtGXHoA=", withheld: 0, suspected: 0, simulated_clock: true };
/** @param {any[]} items */
const list = (items) => ({ ...CLOCKS, items });

/** @type {[RegExp, (found: RegExpExecArray) => any][]} */
const ANSWERS = [
  [/^\/v1\/eggs$/, () => list(data.EGGS)],
  [/^\/v1\/animals$/, () => list(data.ANIMALS)],
  [/^\/v1\/tanks$/, () => list(data.TANKS)],
  [/^\/v1\/species$/, () => list(data.SPECIES)],
  [/^\/v1\/systems$/, () => list(data.SYSTEMS)],
  [/^\/v1\/instruments$/, () => list(data.INSTRUMENTS)],
  [/^\/v1\/foods$/, () => list(data.FOODS)],
  [/^\/v1\/labels$/, () => list(data.EGGS.slice(0, 14).map(({ id, label }) => ({ subject: id, label, below: "invented shark" })))],
  [/^\/v1\/rounds$/, () => list([])],
  [/^\/v1\/rounds\/sheet$/, () => ({ ...CLOCKS, as_of: data.ago(1), known_at: 940, item: data.sheet() })],
  [/^\/v1\/due$/, () => list(data.DUE)],
  [/^\/v1\/duty$/, () => list(data.DUTY)],
  [/^\/v1\/incidents$/, () => list(data.INCIDENTS)],
  [/^\/v1\/people$/, () => ({ items: data.PEOPLE })],
  [/^\/v1\/discrepancies$/, () => list([])],
  [/^\/v1\/collection$/, () => ({ ...CLOCKS, name: "Invented Nursery", country: "AU", time_zone: "Australia/Brisbane", origin: "records.example.org/nursery", size: 1000, policy: data.POLICY, opening_authorisations: [] })],
  [/^\/v1\/collection\/history$/, () => ({ ...CLOCKS, item_id: "collection", notes: [] })],
  [/^\/v1\/systems\/\w+\/history$/, () => ({ ...CLOCKS, notes: data.WATER })],
  [/^\/v1\/eggs\/\w+\/history$/, () => ({ ...CLOCKS, item_id: data.id("egg", 4), notes: data.HISTORY, not_yet: [] })],
  [/^\/v1\/figures\/hatch-rates$/, () => ({ ...CLOCKS, ...data.RATES })],
  [/^\/v1\/forecast$/, () => list(data.FORECAST)],
  [/^\/v1\/openings$/, () => list([data.OPENING])],
  [/^\/v1\/eggs\/\w+\/opening$/, () => ({ ...CLOCKS, item: data.OPENING })],
  [/^\/v1\/figures\/egg-fates$/, () => ({ ...CLOCKS, ...data.FATES })],
  [/^\/v1\/figures\/assisted$/, () => ({ ...CLOCKS, ...data.ASSISTED })],
  [/^\/v1\/figures\/rearing$/, () => ({ ...CLOCKS, ...data.REARING })],
  [/^\/v1\/events\/\w+$/, () => ({ ...CLOCKS, item: { seq: 812, body_sha256: CLOCKS.root } })],
];

/** The same over the answers of a service, which `serve.mjs` passes on. @param {URLSearchParams} asked @returns {Promise<any>} */
export async function servedNursery(asked) {
  const nursery = inventedNursery(asked);
  /** @type {Map<string, Reading>} */ const answers = new Map();
  const fetched = async (/** @type {string} */ path) => {
    const response = await fetch(path);
    const body = await response.json();
    if (!response.ok) throw new Error(body.detail ?? body.title);
    return body;
  };
  const house = await fetched("/v1/collection");
  const now = Date.parse(house.as_of);
  return Object.assign(nursery, {
    now: () => now,
    house: { name: house.name, origin: house.origin, timeZone: house.time_zone, fingerprint: "", simulatedClock: house.simulated_clock === true },
    reading: (/** @type {string} */ path) => answers.get(path) ?? null,
    read: async (/** @type {string} */ path) => {
      const known = answers.get(path) ?? { path, body: await fetched(path), when_ms: now, fresh: true };
      answers.set(path, known);
      nursery.told();
      return known;
    },
  });
}

/** Labels and names as long as they may be, some of them one word. */
function lengthen() {
  const long = (/** @type {number} */ at) => (at % 2 === 0 ? `Quarantäne-Nord-Becken${String(at).padStart(2, "0")}` : `North wall, lower row ${String(at).padStart(2, "0")}`);
  for (const list of [data.EGGS, data.ANIMALS, data.TANKS, data.SYSTEMS, data.DUE, data.FORECAST]) list.forEach((/** @type {any} */ one, /** @type {number} */ at) => void (one.label = long(at)));
  data.PEOPLE.forEach((/** @type {any} */ one, /** @type {number} */ at) => void (one.name = `Maximiliane Wolkenstein-Hohenlohe the ${at + 1}th, of the night shift`));
  data.SPECIES.forEach((/** @type {any} */ one) => void (one.common_name = "whitespotted southern bamboo shark of the invented kind"));
}

/** @param {URLSearchParams} asked @returns {any} */
export function inventedNursery(asked) {
  if (asked.has("long")) lengthen();
  /** @type {Set<() => void>} */ const listeners = new Set();
  /** @type {Map<string, any>} */ const forms = new Map();
  if (asked.has("paper")) {
    forms.set(`printed ${data.id("tank", 1)}`, { at_ms: data.NOW_MS, values: { sheets: [{ item: data.sheet(), known_at: 940, as_of: data.ago(1) }] } });
    forms.set(`paper ${data.id("tank", 1)}`, { at_ms: data.NOW_MS - 600_000, values: { filled: data.filled(asked.get("paper") ?? "") } });
  }
  let made = 0;
  const told = () => listeners.forEach((listener) => listener());
  /** @type {any} */
  const nursery = {
    told, changes: 0,
    person: { keyid: "0123456789abcdef0123456789abcdef", name: asked.has("long") ? String(data.PEOPLE[0]?.name) : "Keeper one", publicKey: "", standing: "enrolled", person: data.PEOPLE[0]?.person, roles: [asked.get("role") ?? "keeper"] },
    people: [], asks: false,
    house: { name: "Invented Nursery", origin: "records.example.org/nursery", timeZone: "Australia/Brisbane", fingerprint: "2f8c03f8", simulatedClock: true },
    settings: { theme: asked.get("theme") ?? "dark", dimmer: 0, thumb: asked.get("thumb") ?? "right", tones: false },
    outbox: { pending: 0, waiting: 2, refused: 0, oldest_ms: data.NOW_MS - 600_000, alarm: "calm", onLine: false, sending: false, persistent: true },
    notes: /** @type {LocalNote[]} */ ([]),
    now: () => data.NOW_MS,
    newSubject: (/** @type {string} */ noun) => data.id(noun, 9000 + made++),
    act: async (/** @type {string} */ type, /** @type {any} */ body, /** @type {any} */ saying) => {
      const { subject, says, correlation, group } = saying;
      const note = { id: `01K9NTE0000000000000${String(made++).padStart(6, "0")}`, type, subject, data: body, time: new Date(data.NOW_MS).toISOString(), says, keyid: "", state: "pending", group: group ?? subject, tapped_ms: data.NOW_MS, ...(correlation ? { correlation } : {}) };
      nursery.notes = [...nursery.notes, note];
      nursery.outbox = { ...nursery.outbox, pending: nursery.outbox.pending + 1 };
      told();
      return { ...note, takeBack: () => nursery.takeBack(note.group) };
    },
    takeBack: async (/** @type {string} */ group) => {
      const before = nursery.notes.length;
      nursery.notes = nursery.notes.filter((/** @type {LocalNote} */ note) => note.group !== group);
      told();
      return nursery.notes.length < before;
    },
    settle: async () => {},
    reading: (/** @type {string} */ path) => answerTo(path),
    read: async (/** @type {string} */ path) => {
      const answer = answerTo(path);
      if (!answer) throw new Error("the service does not answer this yet");
      return answer;
    },
    fetchFile: async () => { throw new Error("no file here"); },
    forMe: async () => [], approve: async () => true,
    prove: async () => data.AUDIT,
    keepPhoto: async () => ({ photo_sha256: "a".repeat(64), photo_copy_sha256: "b".repeat(64), taken_ms: data.NOW_MS }),
    keepFile: async () => "a".repeat(64),
    form: (/** @type {string} */ name) => forms.get(name) ?? null,
    keepForm: (/** @type {string} */ name, /** @type {string} */ member, /** @type {any} */ value) => void forms.set(name, { at_ms: data.NOW_MS - 600_000, values: { ...forms.get(name)?.values, [member]: value } }),
    forgetForm: (/** @type {string} */ name) => void forms.delete(name),
    looked: () => ({ at_ms: data.NOW_MS - 4 * 86_400_000, known_at: 940 }), lookedNow: () => {},
    set: async () => {}, navigate: (/** @type {string} */ hash) => { location.hash = hash; }, tone: () => {},
    onGrown: () => () => {},
    subscribe: (/** @type {() => void} */ listener) => (listeners.add(listener), () => listeners.delete(listener)),
  };
  return nursery;
}

/** Answers are the same objects each time, as the shell's are. @type {Map<string, Reading>} */
const kept = new Map();

/** @param {string} path @returns {Reading|null} */
function answerTo(path) {
  const known = kept.get(path);
  if (known) return known;
  const bare = path.split("?")[0] ?? "";
  for (const [form, answer] of ANSWERS) {
    const found = form.exec(bare);
    if (!found) continue;
    const reading = { path, body: answer(found), when_ms: data.NOW_MS - 60_000, fresh: true };
    kept.set(path, reading);
    return reading;
  }
  return null;
}
