// Finds a QR code in a picture, away from the page's own thread.

/** The decoder is vendored JavaScript, whose types stand elsewhere. @type {Promise<{default: (picture: unknown) => string}>} */
const decoder = import(/** @type {any} */ ("/vendor/qr/decode.js"));

addEventListener("message", async (/** @type {MessageEvent} */ { data: picture }) => {
  const { default: decode } = await decoder;
  let text = null;
  try {
    text = decode(picture);
  } catch {
    // No code in it, or none that can be read: the next picture may have one.
  }
  postMessage(text);
});
