// Instants (F2): milliseconds since 1970 in UTC, compared as numbers and never as text.

import { YEAR_MAX, YEAR_MIN } from "./limits.js";

export const MINUTE_MS = 60_000;
export const HOUR_MS = 60 * MINUTE_MS;
export const DAY_MS = 24 * HOUR_MS;

const FORM = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d{1,3}))?(Z|[+-]\d{2}:\d{2})$/;

/**
 * Reads the form of F2.
 * @param {string} text
 * @returns {number|null} milliseconds since 1970; null for another form, no real date, or a year out of range
 */
export function parseInstant(text) {
  const parts = FORM.exec(text);
  if (!parts) return null;
  const [year, month, day, hour, minute, second] = parts.slice(1, 7).map(Number);
  const fraction_ms = Number((parts[7] ?? "0").padEnd(3, "0"));
  const offset_ms = offset(parts[8] ?? "");
  const fields = [year, month, day, hour, minute, second].map((field) => field ?? 0);
  const [y, mo, d, h, mi, s] = /** @type {[number, number, number, number, number, number]} */ (fields);
  if (y < YEAR_MIN || y > YEAR_MAX || h > 23 || mi > 59 || s > 59 || offset_ms === null) return null;
  const date = new Date(Date.UTC(y, mo - 1, d));
  if (date.getUTCMonth() !== mo - 1 || date.getUTCDate() !== d) return null;
  return date.getTime() + h * HOUR_MS + mi * MINUTE_MS + s * 1000 + fraction_ms - offset_ms;
}

/** @param {string} zone @returns {number|null} */
function offset(zone) {
  if (zone === "Z") return 0;
  const [hours, minutes] = [Number(zone.slice(1, 3)), Number(zone.slice(4, 6))];
  const size_ms = hours * HOUR_MS + minutes * MINUTE_MS;
  if (hours > 23 || minutes > 59 || (zone[0] === "-" && size_ms === 0)) return null;
  return zone[0] === "-" ? -size_ms : size_ms;
}

/** `YYYY-MM-DDThh:mm:ss.mmmZ`, the form of `recorded_at`. @param {number} ms */
export const utcText = (ms) => new Date(ms).toISOString();

/** Reads exactly the form of `recorded_at`. @param {string} text */
export const parseRecorded = (text) => (text.length === "2026-03-01T09:14:00.000Z".length && text.endsWith("Z") ? parseInstant(text) : null);
