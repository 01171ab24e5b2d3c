// What all drawings share: numbers are finite or the drawing is refused by name, text is escaped,
// and every picture carries its finding in words. Pure: no document, no clock.

/** A picture that cannot be drawn from what was given. */
export class CannotDraw extends RangeError {}

/**
 * The number itself, if it is one and lies between the two.
 * @param {string} name @param {unknown} value @param {number} least @param {number} most
 * @returns {number}
 */
export function within(name, value, least, most) {
  if (typeof value !== "number" || !Number.isFinite(value)) throw new CannotDraw(`${name} must be a number; it is ${String(value)}`);
  if (value < least || value > most) throw new CannotDraw(`${name} must lie between ${least} and ${most}; it is ${value}`);
  return value;
}

/**
 * One of the words allowed.
 * @template {string} T
 * @param {string} name @param {unknown} value @param {readonly T[]} words @returns {T}
 */
export function word(name, value, words) {
  const found = words.find((one) => one === value);
  if (found === undefined) throw new CannotDraw(`${name} must be one of ${words.join(", ")}; it is ${String(value)}`);
  return found;
}

/** @param {string} text */
export const escaped = (text) => text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;").replace(/"/g, "&quot;");

/** A coordinate: one decimal is finer than any screen. @param {number} value */
export const at = (value) => String(Math.round(within("a coordinate", value, -100_000, 100_000) * 10) / 10);

/** @param {readonly (readonly [number, number])[]} points */
export const line = (points) => `M${points.map(([x, y]) => `${at(x)} ${at(y)}`).join("L")}`;

/**
 * The frame of a picture. `title` names it, `desc` says what it shows; both are read aloud. A
 * picture beside words that say the same is silent instead.
 * @param {{kind: string, width: number, height: number, title: string, desc: string, silent?: boolean}} head
 * @param {string} body
 */
export function picture({ kind, width, height, title, desc, silent = false }, body) {
  if (title === "" || desc === "") throw new CannotDraw("a picture needs a title and a finding in words");
  const told = silent ? 'aria-hidden="true"' : `role="img" aria-label="${escaped(`${title}. ${desc}`)}"`;
  const words = `<title>${escaped(title)}</title><desc>${escaped(desc)}</desc>`;
  return `<svg xmlns="http://www.w3.org/2000/svg" class="drawn drawn-${kind}" viewBox="0 0 ${at(width)} ${at(height)}" ${told} focusable="false">${words}${body}</svg>`;
}

/** @param {number} x @param {number} y @param {string} words @param {{anchor?: "start"|"middle"|"end", kind?: string}} [how] */
export function says(x, y, words, { anchor = "start", kind = "" } = {}) {
  return `<text x="${at(x)}" y="${at(y)}" text-anchor="${anchor}"${kind ? ` class="${kind}"` : ""}>${escaped(words)}</text>`;
}

/** A number as people write it. @param {number} value @param {number} [decimals] */
export const plain = (value, decimals = 1) => String(Number(value.toFixed(decimals)));

/** @param {number} part from 0 to 1 */
export const percent = (part) => `${plain(part * 100, part > 0 && part < 0.1 ? 1 : 0)} %`;

/** @param {number} count @param {string} one @param {string} [many] */
export const counted = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;
