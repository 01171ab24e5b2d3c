// An invented nursery, for looking at screens without a service. Fixed: two looks at it are alike.

export const NOW_MS = Date.parse("2026-11-25T09:30:00Z");
const DAY = 86_400_000;
export const ago = (/** @type {number} */ days) => new Date(NOW_MS - days * DAY).toISOString().replace(".000Z", "Z");
export const id = (/** @type {string} */ noun, /** @type {number} */ number) => `${noun}/01K9GANTRY0000000000${String(number).padStart(6, "0")}`;
const event = (/** @type {number} */ number) => `01K9EVENT00000000000${String(number).padStart(6, "0")}`;
const at = (/** @type {number} */ days, number = 0) => ({ time: ago(days), event: event(number) });
export const PEOPLE = [
  { person: id("person", 1), name: "Keeper one", roles: ["keeper"], keys: [] },
  { person: id("person", 2), name: "Keeper two", roles: ["keeper"], keys: [] },
  { person: id("person", 3), name: "Curator", roles: ["curator"], keys: [] },
  { person: id("person", 4), name: "Veterinarian", roles: ["veterinarian"], keys: [] },
];

export const SPECIES = [
  { id: id("species", 1), scientific_name: "Invented punctatum", common_name: "Bamboo shark (invented)", length_basis: "total", case_shape: "fibres", listed: at(400), discrepancies: [] },
  { id: id("species", 2), scientific_name: "Invented retifer", common_name: "Catshark (invented)", length_basis: "total", case_shape: "tendrils", listed: at(400), discrepancies: [] },
  { id: id("species", 3), scientific_name: "Invented clavata", common_name: "Skate (invented)", length_basis: "disc width", case_shape: "horned", listed: at(400), discrepancies: [] },
  { id: id("species", 4), scientific_name: "Invented francisci", common_name: "Horn shark (invented)", length_basis: "total", case_shape: "spiral", listed: at(400), discrepancies: [] },
];

const reading = (/** @type {number} */ days, /** @type {Record<string, any>} */ more) => ({ ...at(days, 900), instrument: "probe 3", point: "sump", ...more });
export const SYSTEMS = [
  { id: id("system", 1), label: "System A", water: "tropical", set_up: at(400), tanks: [1, 2, 3, 6].map((n) => id("tank", n)), last_reading: reading(0.1, { temperature_c: 24.8, salinity_psu: 34.1 }), discrepancies: [] },
  { id: id("system", 2), label: "System B", water: "temperate", set_up: at(400), tanks: [4, 5, 7].map((n) => id("tank", n)), last_reading: reading(0.2, { temperature_c: 18.2, ph: 8.05, ph_scale: "NBS", hollow: true }), open_faults: [{ ...at(1.2), equipment: "chiller", effects: ["temperature drifting"] }], discrepancies: [] },
];
export const INSTRUMENTS = [
  { id: id("instrument", 1), label: "probe 3", measures: ["temperature", "salinity"], system: id("system", 1), ...at(300), calibrations: [], discrepancies: [] },
  { id: id("instrument", 2), label: "pH meter", measures: ["pH"], ...at(300), calibrations: [], discrepancies: [] },
  { id: id("instrument", 3), label: "oxygen meter", measures: ["oxygen"], ...at(300), calibrations: [], discrepancies: [] },
];

const places = (/** @type {number} */ tank, /** @type {number} */ from, /** @type {number} */ count) =>
  Array.from({ length: count }, (_, index) => ({ id: id("place", tank * 100 + index), ...at(300), label: `${"ABC"[Math.floor(index / 4)]}${(index % 4) + 1}`, row: "ABC"[Math.floor(index / 4)], order: index + 1, tank: id("tank", tank), eggs: index < count - 2 ? [id("egg", from + index)] : [] }));
const fed = { ...at(1, 700), offered: [{ food: "squid", amount_g: 12, from_batch: id("food", 1) }], eaten: "all" };
export const TANKS = [
  tank(1, "Tray 1", "incubation", 1, range("egg", 1, 10), [], { places: places(1, 1, 12) }),
  tank(2, "Tray 2", "incubation", 1, range("egg", 11, 8), [], { places: places(2, 11, 10) }),
  tank(3, "Adults 1", "adults", 1, [], range("animal", 1, 3), { last_search: { ...at(3), eggs_found: 2, whole_tank: true }, last_fed: fed, last_check: { ...at(1), all_well: true } }),
  tank(4, "Tray 3", "incubation", 2, range("egg", 19, 6), [], {}),
  tank(5, "Adults 2", "adults", 2, [], range("animal", 4, 2), { last_search: { ...at(2), eggs_found: 0, whole_tank: true } }),
  tank(6, "Nursery 1", "nursery", 1, [], range("animal", 6, 5), { last_fed: { ...fed, offered: [{ food: "chopped krill", amount_g: 6 }], eaten: "most" } }),
  tank(7, "Held apart", "quarantine", 2, range("egg", 25, 2), [], {}),
];

/** @param {string} noun @param {number} from @param {number} count */
function range(noun, from, count) {
  return Array.from({ length: count }, (_, index) => id(noun, from + index));
}

/** @param {number} number @param {string} label @param {string} purpose @param {number} system @param {string[]} eggs @param {string[]} animals @param {Record<string, any>} more */
function tank(number, label, purpose, system, eggs, animals, more) {
  return { id: id("tank", number), label, purpose, system: id("system", system), set_up: at(400), eggs, animals, discrepancies: [], ...more };
}

/** @param {number} number @param {number} tankNumber @param {number} kind */
function egg(number, tankNumber, kind) {
  const age = 20 + ((number * 29) % 110);
  const weeks = Math.floor(age / 7);
  const looks = Array.from({ length: weeks }, (_, week) => look(number, age - 7 * (week + 1), Math.min(7, 1 + Math.floor(((week + 1) * 7) / 17)), week));
  const held = tankNumber === 7 ? { held_apart: { since: at(3, 500 + number), reason: number === 25 ? "cloudy" : "no movement seen", looks_since: number === 25 ? 1 : 0, ...(number === 25 ? { last_look: at(1) } : {}) } } : {};
  return {
    id: id("egg", number), label: `E-${String(number).padStart(3, "0")}`, species: id("species", kind), came: at(age, 100 + number), origin: { how: "collected", from_tank: id("tank", 3), laid: "pair" },
    laid_window: { not_before: ago(age + 3), not_after: ago(age), basis: "the last search", event: event(100 + number) }, dam: { status: "candidates", animals: [{ animal: id("animal", 1) }, { animal: id("animal", 2) }] }, sire: { status: "unknown" },
    place: { tank: id("tank", tankNumber), since: at(age) }, taken_in: at(age, 100 + number), looks, yolk: "seen", band: looks.at(-1)?.band, openings: [], fate: { state: "open" }, discrepancies: [], ...held,
  };
}

/** @param {number} number @param {number} days @param {number} band @param {number} week */
function look(number, days, band, week) {
  const dark = (number + week) % 9 === 0;
  const findings = number % 7 === 0 && week > 8 ? ["fouled"] : band === 7 ? ["slits open"] : [];
  return { ...at(Math.max(days, 0.5), 2000 + number * 40 + week), seen_into: !dark, ...(dark ? {} : { band, movement: band < 2 ? "could not tell" : week % 5 === 4 ? "still" : "moving" }), findings, prompted: false, person: id("person", 1) };
}

export const EGGS = [
  ...Array.from({ length: 10 }, (_, n) => egg(n + 1, 1, 1)),
  ...Array.from({ length: 8 }, (_, n) => egg(n + 11, 2, n % 2 === 0 ? 2 : 3)),
  ...Array.from({ length: 6 }, (_, n) => egg(n + 19, 4, n % 2 === 0 ? 4 : 3)),
  egg(25, 7, 1), egg(26, 7, 2),
];

/** @param {number} number @param {string|undefined} label @param {string} sex @param {number} tankNumber @param {Record<string, any>} more */
function animal(number, label, sex, tankNumber, more = {}) {
  return { id: id("animal", number), label, species: id("species", 1), sex, came: at(300 - number, 3000 + number), origin: { how: "received", from: "elsewhere", state: "alive", origin: "bred in care" }, dam: { status: "unknown" }, sire: { status: "unknown" }, place: { tank: id("tank", tankNumber), since: at(200) }, feeds: 40, first_eaten: at(190), last_eaten: at(1), last_seen_alive: at(1), measures: [{ ...at(40), mass_g: 20 + number * 3, mass_how: "drained", length_cm: 16 + number }], fate: { state: "present" }, discrepancies: [], ...more };
}
export const ANIMALS = [
  animal(1, "Ada", "female", 3), animal(2, "Bea", "female", 3), animal(3, "Carl", "male", 3), animal(4, "Dora", "female", 5), animal(5, "Egon", "male", 5),
  animal(6, "Y-01", "unknown", 6), animal(7, "Y-02", "unknown", 6), animal(8, "Y-03", "unknown", 6, { first_eaten: undefined, last_eaten: undefined, feeds: 3 }), animal(9, "Y-04", "unknown", 6), animal(10, undefined, "unknown", 6, { feeds: 0, first_eaten: undefined, last_eaten: undefined, measures: [] }),
];

const due = (/** @type {string} */ what, /** @type {string} */ subject, /** @type {string} */ label, /** @type {number} */ days, /** @type {string} */ why, tankId = "") => ({ what, subject, label, ...(tankId ? { tank: tankId } : {}), due_at: ago(days), overdue_days: Math.max(0, Math.floor(days)), why, events: [] });
export const DUE = [
  ...EGGS.slice(0, 10).map((one, n) => due("candle", one.id, one.label, n === 0 ? 2 : 0, "Last candled on 2026-11-18 in band 4; the policy asks for a look every 7 days.", id("tank", 1))),
  ...EGGS.slice(18, 22).map((one) => due("candle", one.id, one.label, 0, "Last candled on 2026-11-18; the policy asks for a look every 7 days.", id("tank", 4))),
  due("look again", id("egg", 25), "E-025", 0.5, "Held apart on 2026-11-22 (cloudy); to be looked at again 48 hours later.", id("tank", 7)),
  due("not seen to eat", id("animal", 8), "Y-03", 1, "Internal yolk used up on 2026-11-10 and not seen to eat; the species' threshold is 14 days."),
  due("calibrate", id("instrument", 2), "pH meter", 4, "Calibrated until 2026-11-21."),
  due("restore equipment", id("system", 2), "System B", 1, "Its chiller failed on 2026-11-24 and is not said to work again."),
];
export const DUTY = [{ ...at(0.6, 800), from: id("person", 2), to: id("person", 1), matters: [{ words: "E-025 is held apart (cloudy): look again", about: id("egg", 25) }, { words: "System B: chiller failed, spare is on", about: id("system", 2) }] }];
export const INCIDENTS = [{ id: id("incident", 1), ...at(1.2, 810), label: "24 Nov 1", what: "temperature", summary: "chiller of System B stopped in the night", notes: [{ ...at(1), words: "spare chiller put on, 18.4 °C and falling" }], discrepancies: [] }];
export const FOODS = [{ id: id("food", 1), ...at(30), label: "B-112", food: "squid", state: "frozen", discrepancies: [] }, { id: id("food", 2), ...at(12), label: "B-120", food: "chopped krill", state: "frozen", discrepancies: [] }];
export const POLICY = { candling_interval_days: 7, look_again_after_hours: 48, looks_before_loss_min: 2, unseen_days_max: 14, mass_loss_percent_max: 10, opening_approval_roles: ["curator", "veterinarian"], candling_interval_days_by_band: {}, witnesses: [] };

const signed = { person: id("person", 1), keyid: "0123456789abcdef0123456789abcdef", roles: ["keeper"] };
/** The history of one system: readings every six hours, with a day missing. */
export const WATER = Array.from({ length: 56 }, (_, n) => n).filter((n) => n < 24 || n > 31).map((n) => ({ seq: 300 + n, id: event(4000 + n), kind: "water.measured.v1", subject: id("system", 2), time: ago(14 - n / 4), recorded_at: ago(14 - n / 4), by: signed, data: { temperature_c: Math.round((14 + Math.sin(n / 3) * 0.6 + (n > 49 ? (n - 49) * 0.7 : 0)) * 10) / 10, instrument: "probe 4" }, acts: [], standing: "stands", discrepancies: [] }));

/** The history of E-004, with a look put right and one that arrived late. */
export const HISTORY = EGGS[3] ? [
  note(12, "egg.collected.v1", EGGS[3].came.time, 0, { label: "E-004", laid: "pair", case: "whole", yolk: "seen", to_tank: id("tank", 1) }),
  ...EGGS[3].looks.map((/** @type {any} */ one, /** @type {number} */ index) => {
    const { time, event: own, seen_into, band, movement, findings } = one;
    const right = index === 3 ? { standing: "put right", put_right: [{ at: "/data/band", before: 5, after: band }], as_written: { subject: EGGS[3]?.id, time, data: { seen_into, band: 5, movement } }, acts_told: [{ seq: 240, id: event(5001), kind: "record.corrected.v1", target: own, time: ago(20), recorded_at: ago(20), by: signed, reason: "read off the neighbour case", standing: "stands" }] } : {};
    return { ...note(20 + index * 12, "egg.candled.v1", time, index === 5 ? 6 : 0, { seen_into, band, movement, findings }), id: own, ...right };
  }),
] : [];

/** @param {number} seq @param {string} kind @param {string} time @param {number} lateDays @param {Record<string, any>} data @returns {any} */
function note(seq, kind, time, lateDays, data) {
  const recorded = new Date(Date.parse(time) + lateDays * DAY + 4 * 60_000).toISOString().replace(".000Z", "Z");
  return { seq, id: event(6000 + seq), kind, subject: id("egg", 4), time, recorded_at: recorded, by: signed, data, acts: [], standing: "stands", discrepancies: [], ...(lateDays > 0 ? { latereason: "written on paper at the tray, entered afterwards", from_paper: true } : {}) };
}

const absent = { why: "open cases", says: "No interval while cases of the cohort are open." };
const rate = (/** @type {string} */ name, /** @type {number} */ x, /** @type {number} */ n, /** @type {number} */ open, more = {}) => ({ name, x, n, open, unaided: x - 1, after_opening: 1, could_not_be_judged: 2, end_not_known: 0, put_down: 1, put_down_alive: 0, missing: 0, ...(open === 0 ? { estimate: x / n, wilson_95: [x / n - 0.12, x / n + 0.11] } : { bounds: [x / n, (x + open) / n], absent }), ...more });
export const RATES = { cohort: {}, method: "Cases whose fate is settled; Wilson 95 % where none is open.", collected: [rate("collected", 21, 52, 0), rate("with yolk", 21, 44, 0), rate("embryo seen", 21, 33, 4), rate("taken into the nursery", 21, 48, 6)], received: [], dead_on_arrival: 0, origin_withheld: 0, behind: { eggs: 52, clutches: 24, eggs_without_clutch: 4, dams_known: 0, eggs_with_candidate_dams: 50, eggs_without_dam: 2 }, behind_received: { eggs: 0, clutches: 0, eggs_without_clutch: 0, dams_known: 0, eggs_with_candidate_dams: 0, eggs_without_dam: 0 } };
export const REARING = { cohort: {}, method: "Kaplan-Meier from hatch, Greenwood, log-log interval", n: 21, deaths: 5, points: [{ age_days: 30, survival: 0.857, loglog_95: [0.62, 0.95], at_risk: 18, deaths: 3 }, { age_days: 90, survival: 0.76, loglog_95: [0.5, 0.9], at_risk: 9, deaths: 5 }, { age_days: 365, survival: null, at_risk: 0, deaths: 5, absent: { why: "nobody", says: "Nobody was watched so long." } }], pieces: [{ from_days: 0, to_days: 6, survival: 1, loglog_95: null }, { from_days: 6, to_days: 14, survival: 0.952, loglog_95: [0.71, 0.99] }, { from_days: 14, to_days: 40, survival: 0.857, loglog_95: [0.62, 0.95] }, { from_days: 40, to_days: 120, survival: 0.76, loglog_95: [0.5, 0.9] }], at_risk: [{ days: 0, count: 21 }, { days: 30, count: 18 }, { days: 60, count: 12 }, { days: 90, count: 9 }], censored: [{ days: 52, count: 2 }, { days: 75, count: 1 }], notes: [], beside: { unseen: 1, unseen_days_max: 14, dead_at_hatch: 1, dead_on_arrival: 0, hatch_day_not_known: 0, no_time_at_risk: 0, days_at_odds: 0 }, behind: { eggs: 20, clutches: 12, eggs_without_clutch: 1, dams_known: 0, eggs_with_candidate_dams: 19, eggs_without_dam: 1 }, entered_late: 2 };
const group = (/** @type {number} */ n, /** @type {number} */ events, /** @type {number} */ expected, /** @type {number} */ days) => ({ n, events, expected, days });
export const ASSISTED = { cohort: {}, caveat: "Never read as the effect of opening: cases are opened because they are overdue or weak. A trial on animals is research: only under the institution's ethical review and the law.", opened: 3, urgent: { "case torn or crushed": 1 }, extents: { "end slit widened": 2, window: 1 }, bands: { 7: 3 }, age_days: [127, 151, 176], outcomes: { hatched: 2, "left to hatch": 1 }, young: [{ days: 30, lived: 2, judged: 2, not_known: 0, wilson_95: [0.34, 1] }, { days: 90, lived: 1, judged: 2, not_known: 1, wilson_95: [0.09, 0.91] }], left_to_hatch: 4, comparison: { from_days: 120, within_days: 14, event: "lost in the case, or the young died within 30 days of hatching", eligible: 36, time_dependent: { opened: group(3, 0, 0.09, 63), not_opened: group(36, 5, 4.91, 1758), p: null, absent: { says: "not estimable: fewer than 5 events are expected in one of the groups" } }, landmark: { opened: group(1, 0, 0.06, 23), not_opened: group(34, 4, 3.94, 1296), p: 0.812, absent: null } } };

const inDays = (/** @type {number} */ days) => ago(-days).slice(0, 10);
/** Windows of some cases, and one without. */
export const FORECAST = EGGS.slice(0, 14).map((one, n) => {
  const middle = -4 + n * 9 + ((n * 37) % 11);
  const half = 5 + ((n * 13) % 10);
  if (n % 6 === 5) return { egg: one.id, label: one.label, standing: "no forecast", no_forecast: { reason: "no readings", says: "no temperature was read in its tank for 9 days" } };
  return { egg: one.id, label: one.label, standing: n === 0 ? "past the window" : "before the window", window: { p05: inDays(middle - half), p25: inDays(middle - half / 3), p50: inDays(middle), p75: inDays(middle + half / 3), p95: inDays(middle + half) }, rate: { grade: ["fitted", "single", "house"][n % 3] } };
});
export const OPENING = {
  egg: id("egg", 7), label: "E-007", says: "This is no recommendation.", window: { standing: "past the window", says: "Past its window since 19 November: by then 95 % of such eggs would have hatched (fitted)." },
  criteria: [
    { what: "past the window", holds: "yes", says: "The 95 % day was 19 November, by temperatures read.", evidence: [{ event: event(1), age_days: 1 }] },
    { what: "band 7", holds: "yes", says: "Yolk nearly gone at the last look.", evidence: [{ event: event(2), age_days: 5 }] },
    { what: "alive on repeated looks", holds: "not known", says: "One look of two showed movement.", evidence: [{ event: event(2), age_days: 5 }, { event: event(3), age_days: 12 }] },
  ],
  against: [
    { what: "few looks", holds: "yes", says: "Two looks since its window opened.", evidence: [{ event: event(2), age_days: 5 }] },
    { what: "external yolk seen", holds: "no", says: "None at the last look.", evidence: [{ event: event(2), age_days: 5 }] },
    { what: "embryo merely still", holds: "yes", says: "Still at the last look; embryos freeze.", evidence: [{ event: event(2), age_days: 5 }] },
  ],
  meets_criteria: false, sealed: true,
  comparable: { which: "Cases of this species in band 7 and unhatched at that age.", landmark_days: 120, within_days: 14, left_alone: { n: 9, hatched_unaided: 7, hatched_after_opening: 0, lost: 1, put_down: 0, otherwise_ended: 0, still_in_case: 1 }, opened: { n: 2, hatched_unaided: 0, hatched_after_opening: 1, lost: 1, put_down: 0, otherwise_ended: 0, still_in_case: 0 }, ended_within: 3, caveat: "Few cases, chosen by people: these counts describe and do not compare." },
  agreement: { roles: ["curator", "veterinarian"], says: "The house's rules want the curator and the veterinarian.", authorisations: [] }, met_by: [],
  cautions: ["The licensed veterinarian and the institution's animal-welfare process decide; local law and permits apply.", "Most late young come by themselves."],
};
const part = (/** @type {number} */ estimate) => ({ estimate, limits_95: [Math.max(0, estimate - 0.1), Math.min(1, estimate + 0.1)] });
export const FATES = { cohort: {}, method: "Aalen-Johansen with delayed entry", interval: "", numerator: "cases that ended so by that age", denominator: "cases at risk", n: 48, hatched: 21, hatched_after_opening: 1, died: 13, removed: 2, lost: 1, open: 11, ages: [[20, 0, 0.04, 0], [35, 0, 0.1, 0.02], [61, 0, 0.19, 0.02], [96, 0.08, 0.23, 0.04], [104, 0.24, 0.27, 0.04], [118, 0.47, 0.29, 0.04], [131, 0.56, 0.31, 0.04]].map(([age_days = 0, hatched = 0, died = 0, removed = 0]) => ({ age_days, at_risk: 20, hatched: part(hatched), died: part(died), removed: part(removed), open: 0 })), absent: null, notes: [], entered_late: 0, beside: {}, behind: {} };

const command = "selachron-verify . --log-key records.example.org/nursery+2f8c03f8+AT1AF8PoQ4lakrcKp00bfrycmCzPLsSWjMDNVfEq9GYM";
export const AUDIT = { holds: true, size: 1000, sentence: "Every note is as it was signed, in the order it came, and none has been taken away since the checkpoint. It does not show that a note is true, nor that everything that happened was noted.", checks: [
  { name: "The files", outcome: "holds", detail: "162 files are as SHA256SUMS says.", command: "sha256sum --check SHA256SUMS" },
  { name: "The checkpoint", outcome: "holds", detail: "It is signed by the log key that this device pinned.", command },
  { name: "The rules", outcome: "not here", detail: "Roles, required persons and versions are replayed by the verifier.", command },
] };

/** The round sheet of the first tray, as it was printed a day ago; one of its cases has left the tray since. */
export function sheet() {
  const cases = (/** @type {any} */ place) => EGGS.filter(({ id: own }) => place.eggs.includes(own)).map((one) => ({ egg: one.id, label: one.label, last_look: one.looks.at(-1)?.time.slice(0, 10), band: one.looks.at(-1)?.band, movement: one.looks.at(-1)?.movement, held_apart: false, due: [] }));
  const printed = TANKS[0]?.places.map((/** @type {any} */ place) => ({ label: place.label, row: place.row, cases: cases(place) })) ?? [];
  const left = EGGS.slice(10, 11).map((one) => ({ egg: one.id, label: one.label, last_look: one.looks.at(-1)?.time.slice(0, 10), band: one.looks.at(-1)?.band, movement: one.looks.at(-1)?.movement, held_apart: false, due: [] }));
  return { tank: id("tank", 1), label: TANKS[0]?.label, places: [...printed, { cases: left }], cases: 11, page_hash: "4be1a07f93d2c586", name: `sheet 4be1a07f93d2c586 of ${TANKS[0]?.label}, log size 940` };
}

/** What somebody has typed in of it. @param {string} how "half": not all of it */
export function filled(how) {
  const whole = how !== "half";
  const rows = Object.fromEntries(EGGS.slice(0, whole ? 9 : 4).map((one, at) => [one.id, { band: at === 5 ? null : 2 + (at % 6), ...(at === 5 ? {} : { movement: at === 3 ? "still" : "moving" }), ...(at === 6 ? { findings: ["fouled"], words: "a thread of algae at one horn" } : {}) }]));
  const lacking = whole ? {} : { [EGGS[4]?.id ?? ""]: { band: 5 } };
  return { source: "4be1a07f93d2c586", hash: "", size: "", printed: "", at: "2026-11-25T18:10", begun: "17:40", count: "10", rows: { ...rows, ...lacking }, reason: whole ? "no time" : "", by: id("person", 2), round: id("round", 77), into: "", sent: "" };
}
