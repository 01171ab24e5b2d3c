// The device's clock, asked here and nowhere else; and its chance.

/** Milliseconds since 1970. */
export const now_ms = () => Date.now();

/** @param {number} length */
export const randomBytes = (length) => crypto.getRandomValues(new Uint8Array(length));
