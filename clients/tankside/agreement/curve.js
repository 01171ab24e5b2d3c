// Which public keys may be enrolled (F8): canonical, not of small order, free of torsion. The last
// needs the curve itself (RFC 8032 5.1), which no browser shows. Not constant in time, and it need
// not be: only public keys come here.

import { isCanonical, isSmallOrder } from "./ed25519.js";

const P = 2n ** 255n - 19n;
const L = 2n ** 252n + 27742317777372353535851937790883648493n;
const mod = (/** @type {bigint} */ a) => ((a % P) + P) % P;

/** @param {bigint} base @param {bigint} exponent */
function power(base, exponent) {
  let [result, square, rest] = [1n, mod(base), exponent];
  for (; rest > 0n; rest >>= 1n) {
    if (rest & 1n) result = mod(result * square);
    square = mod(square * square);
  }
  return result;
}

const D = mod(-121665n * power(121666n, P - 2n));
const ROOT_OF_MINUS_ONE = power(2n, (P - 1n) / 4n);

/** A point in extended coordinates. @typedef {[bigint, bigint, bigint, bigint]} Point */

/** @type {Point} */
const IDENTITY = [0n, 1n, 1n, 0n];

/** RFC 8032 5.1.4. @param {Point} a @param {Point} b @returns {Point} */
function add([x1, y1, z1, t1], [x2, y2, z2, t2]) {
  const a = mod((y1 - x1) * (y2 - x2));
  const b = mod((y1 + x1) * (y2 + x2));
  const c = mod(2n * D * t1 * t2);
  const d = mod(2n * z1 * z2);
  const [e, f, g, h] = [b - a, d - c, d + c, b + a];
  return [mod(e * f), mod(g * h), mod(f * g), mod(e * h)];
}

/** @param {Point} point @param {bigint} times */
function multiply(point, times) {
  let [sum, double, rest] = [IDENTITY, point, times];
  for (; rest > 0n; rest >>= 1n) {
    if (rest & 1n) sum = add(sum, double);
    double = add(double, double);
  }
  return sum;
}

/** RFC 8032 5.1.3; null when it is no point. @param {Uint8Array} bytes @returns {Point|null} */
function decompress(bytes) {
  const number = bytes.reduceRight((sum, byte) => (sum << 8n) | BigInt(byte), 0n);
  const y = number & (2n ** 255n - 1n);
  const sign = number >> 255n;
  const [u, v] = [mod(y * y - 1n), mod(D * y * y + 1n)];
  let x = mod(u * power(v, 3n) * power(u * power(v, 7n), (P - 5n) / 8n));
  if (mod(v * x * x) === mod(-u)) x = mod(x * ROOT_OF_MINUS_ONE);
  if (mod(v * x * x) !== u || (x === 0n && sign === 1n)) return null;
  if ((x & 1n) !== sign) x = mod(-x);
  return [x, y, 1n, mod(x * y)];
}

/**
 * Why a public key may not be enrolled; null when it may.
 * @param {Uint8Array} publicKey
 */
export function inadmissible(publicKey) {
  if (publicKey.length !== 32) return "a public key has 32 bytes";
  if (!isCanonical(publicKey)) return "the public key is not in its canonical encoding";
  if (isSmallOrder(publicKey)) return "the public key is of small order";
  const point = decompress(publicKey);
  if (!point) return "the public key is no point of the curve";
  const [x, y, z] = multiply(point, L);
  return x === 0n && y === z ? null : "the public key is not torsion-free";
}
