// Whether this browser can hold a key at all. Where it cannot, the page says so and does nothing
// half: no key kept in plain sight, no note without a signature.

import { Trouble } from "./trouble.js";

/**
 * Why this browser cannot be used to write; null when it can.
 * @returns {Promise<string|null>}
 */
export async function unsupported() {
  if (!globalThis.isSecureContext || !globalThis.crypto?.subtle) {
    return "This address is not secure, so the browser keeps no keys here. Open the page by https://, with the house's certificate installed; or on the machine of the service itself.";
  }
  if (!globalThis.indexedDB || !navigator.locks) {
    return "This browser keeps no data for pages, or not safely for two windows. Use a newer one, and no private window.";
  }
  try {
    await crypto.subtle.generateKey({ name: "Ed25519" }, false, ["sign", "verify"]);
  } catch {
    return "This browser cannot sign with Ed25519. Use a newer one: Chrome or Edge 137, Firefox 130, Safari 17 or later.";
  }
  return null;
}

/** Refuses with a sentence where the browser cannot be used. */
export async function demandSupport() {
  const why = await unsupported();
  if (why !== null) throw new Trouble(why);
}
