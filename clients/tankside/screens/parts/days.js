// Days and hours as the house writes them: dates in the collection's time zone.

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/** @param {string} zone @param {Intl.DateTimeFormatOptions} options */
function format(zone, options) {
  const name = `${zone} ${JSON.stringify(options)}`;
  const known = formats.get(name) ?? new Intl.DateTimeFormat("en-GB", { timeZone: zone, ...options });
  formats.set(name, known);
  return known;
}

/** @typedef {string|number} When RFC 3339 or ms */

/** @param {When} when */
export const ms = (when) => (typeof when === "number" ? when : Date.parse(when));

/** @param {When} when @param {string} zone such as 25 Nov */
export const day = (when, zone) => format(zone, { day: "numeric", month: "short" }).format(ms(when));

/** @param {When} when @param {string} zone such as 25 Nov 2026 */
export const fullDay = (when, zone) => format(zone, { day: "numeric", month: "short", year: "numeric" }).format(ms(when));

/** @param {When} when @param {string} zone such as 14:05 */
export const clock = (when, zone) => format(zone, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(ms(when));

/** @param {When} when @param {string} zone */
export const moment = (when, zone) => `${fullDay(when, zone)}, ${clock(when, zone)}`;

/** @param {When} when @param {string} zone such as Mon */
export const weekday = (when, zone) => format(zone, { weekday: "short" }).format(ms(when));

/** Whole days of the calendar between two moments. @param {When} from @param {When} to @param {string} zone */
export function daysBetween(from, to, zone) {
  const number = (/** @type {When} */ when) => Date.parse(format(zone, { year: "numeric", month: "2-digit", day: "2-digit" }).format(ms(when)).split("/").reverse().join("-")) / 86_400_000;
  return number(to) - number(from);
}

/** @param {When} when @param {number} now_ms @param {string} zone */
export function since(when, now_ms, zone) {
  const days = daysBetween(when, now_ms, zone);
  if (days === 0) return `today ${clock(when, zone)}`;
  return days === 1 ? `yesterday ${clock(when, zone)}` : `${day(when, zone)}, ${days} days ago`;
}

/** RFC 3339 in UTC, whole seconds. @param {number} at_ms */
export const instant = (at_ms) => new Date(Math.floor(at_ms / 1000) * 1000).toISOString().replace(".000Z", "Z");

/** As a field for date and time wants it, in the house's zone: 2026-11-25T14:05. @param {When} when @param {string} zone */
export function localText(when, zone) {
  const parts = Object.fromEntries(format(zone, { year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).formatToParts(ms(when)).map(({ type, value }) => [type, value]));
  return `${parts.year}-${parts.month}-${parts.day}T${parts.hour}:${parts.minute}`;
}

/** The moment that such a text names; null where it names none. @param {string} text @param {string} zone @returns {number|null} */
export function fromLocal(text, zone) {
  const wanted = Date.parse(`${text}Z`);
  if (!/^\d{4}-\d\d-\d\dT\d\d:\d\d$/.test(text) || Number.isNaN(wanted)) return null;
  // The zone's offset is that of the moment itself, which is what is looked for: twice is enough.
  const offset = (/** @type {number} */ at_ms) => Date.parse(`${localText(at_ms, zone)}Z`) - Math.floor(at_ms / 60_000) * 60_000;
  const first = wanted - offset(wanted);
  return wanted - offset(first);
}
