// The eight candling bands: their words, and what numbers draw them. A convention of this project,
// from visible landmarks; no published stage number.

/**
 * @typedef {object} Band
 * @property {number} band 0 to 7
 * @property {string} label as on the button
 * @property {string} shows what the torch shows
 * @property {number} yolk external yolk left, share of the first volume, 0 to 1
 * @property {number} body length of the embryo in lengths of the case, 0 to 1.4
 * @property {number} gills outer gill threads, 0 none to 1 long
 * @property {number} pigment pattern on the skin, 0 none to 1 full
 */

/** @type {readonly Band[]} */
export const BANDS = [
  { band: 0, label: "No yolk", shows: "no yolk in the case", yolk: 0, body: 0, gills: 0, pigment: 0 },
  { band: 1, label: "Yolk only", shows: "yolk whole, no embryo seen", yolk: 1, body: 0, gills: 0, pigment: 0 },
  { band: 2, label: "Thread on yolk", shows: "thread-like embryo", yolk: 0.96, body: 0.22, gills: 0, pigment: 0 },
  { band: 3, label: "First gill threads", shows: "first threads, eye pale", yolk: 0.86, body: 0.46, gills: 0.4, pigment: 0 },
  { band: 4, label: "Long gill threads", shows: "long threads, dark rim to the eye", yolk: 0.7, body: 0.68, gills: 1, pigment: 0 },
  { band: 5, label: "Gills in, big yolk", shows: "threads going, yolk larger than the trunk", yolk: 0.56, body: 0.88, gills: 0.15, pigment: 0.15 },
  { band: 6, label: "Pattern, yolk shrinking", shows: "pattern showing, yolk clearly shrinking", yolk: 0.22, body: 1.1, gills: 0, pigment: 0.8 },
  { band: 7, label: "Yolk nearly gone", shows: "yolk gone or a bead, embryo fills the case", yolk: 0.02, body: 1.36, gills: 0, pigment: 1 },
];

/** @param {number} band @returns {Band} */
export function bandOf(band) {
  const found = BANDS[band];
  if (!found) throw new RangeError(`a band is 0 to 7; it is ${band}`);
  return found;
}

/** The eye, as the band usually shows it. @param {number} band */
export const eyeOf = (band) => (band < 3 ? "none" : band === 3 ? "unpigmented" : band === 4 ? "dark rim" : "pigmented");
