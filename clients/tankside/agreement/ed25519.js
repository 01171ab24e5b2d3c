// When a signature is valid (F6): key and R canonical and not of small order, S below the order,
// and the equation without the cofactor. The browser checks the equation and S; whether it also
// minds the encodings differs between browsers, so that is checked here first.

/** y of the points of small order that are canonically written, as little-endian hexadecimal without the sign. */
const SMALL_ORDER_Y = new Set([
  "0000000000000000000000000000000000000000000000000000000000000000",
  "0100000000000000000000000000000000000000000000000000000000000000",
  "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
  "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
  "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
]);

/** @param {Uint8Array} point 32 bytes */
function yOf(point) {
  const y = Uint8Array.from(point);
  y[31] = (y[31] ?? 0) & 0x7f;
  return y;
}

/** Whether y is below 2^255 - 19. @param {Uint8Array} point 32 bytes */
export function isCanonical(point) {
  const y = yOf(point);
  return !(y[31] === 0x7f && (y[0] ?? 0) >= 0xed && y.slice(1, 31).every((byte) => byte === 0xff));
}

/** @param {Uint8Array} point 32 bytes, canonical */
export function isSmallOrder(point) {
  return SMALL_ORDER_Y.has(Array.from(yOf(point), (byte) => byte.toString(16).padStart(2, "0")).join(""));
}

/** @param {Uint8Array} point */
const mayVerify = (point) => point.length === 32 && isCanonical(point) && !isSmallOrder(point);

/**
 * @param {Uint8Array} publicKey 32 bytes @param {Uint8Array} message @param {Uint8Array} signature
 * @returns {Promise<boolean>}
 */
export async function verify(publicKey, message, signature) {
  if (signature.length !== 64 || !mayVerify(publicKey) || !mayVerify(signature.slice(0, 32))) return false;
  try {
    const key = await crypto.subtle.importKey("raw", /** @type {BufferSource} */ (publicKey), { name: "Ed25519" }, false, ["verify"]);
    return await crypto.subtle.verify({ name: "Ed25519" }, key, /** @type {BufferSource} */ (signature), /** @type {BufferSource} */ (message));
  } catch {
    // A key that is no point of the curve cannot be imported.
    return false;
  }
}
