// Soft tones, so that the eye may stay on the case: one for each kind of outcome, short and low.

/** Frequencies in Hz, one after the other, and how long each sounds in seconds. */
const TONES = /** @type {Record<string, [number[], number]>} */ ({
  still: [[330], 0.12],
  moving: [[440], 0.1],
  loss: [[294, 220], 0.18],
  done: [[440, 554], 0.1],
  no: [[180], 0.2],
});
const LOUDNESS = 0.06;

/** @type {AudioContext|null} */
let context = null;

/** @param {string} kind */
export function sound(kind) {
  const [frequencies, length_s] = TONES[kind] ?? [[], 0];
  // A browser without sound, or before the first touch, is silent.
  if (!globalThis.AudioContext) return;
  context ??= new AudioContext();
  let at_s = context.currentTime;
  for (const frequency_hz of frequencies) {
    const [oscillator, gain] = [context.createOscillator(), context.createGain()];
    oscillator.frequency.value = frequency_hz;
    gain.gain.setValueAtTime(0, at_s);
    gain.gain.linearRampToValueAtTime(LOUDNESS, at_s + length_s / 4);
    gain.gain.linearRampToValueAtTime(0, at_s + length_s);
    oscillator.connect(gain).connect(context.destination);
    oscillator.start(at_s);
    oscillator.stop(at_s + length_s);
    at_s += length_s;
  }
}
