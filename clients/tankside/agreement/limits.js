// The limits of the format that a page must know; schemas/src/limits.rs is where they are decided,
// and a test compares each number here with the one of that name there.

export const EVENT_BYTES_MAX = 16 * 1024;
export const ENVELOPE_BYTES_MAX = 24 * 1024;
export const BODY_BYTES_MAX = 8 * 1024 * 1024;
export const BATCH_EVENTS_MAX = 256;
export const SIGNATURES_MAX = 8;
export const DEPTH_MAX = 16;
export const OFFLINE_DAYS_MAX = 14;
export const LATE_MINUTES = 15;
export const CLOCK_SKEW_MS = 120_000;
export const LATE_REASON_CHARS_MAX = 200;
export const CORRELATION_CHARS_MAX = 200;
export const INTEGER_MAX = 2_147_483_647;
export const YEAR_MIN = 1800;
export const YEAR_MAX = 9998;
export const WAITING_WARN_HOURS = 48;
export const TOKEN_LIFE_S = 300;
export const TOKEN_RENEW_S = 60;
