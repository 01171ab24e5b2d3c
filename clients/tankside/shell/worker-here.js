// The service worker's side in the page: it is registered, and when newer pages are there the
// person says when they are taken; nothing changes under somebody's hands.

/** @type {Set<() => void>} */
const listeners = new Set();
/** @type {ServiceWorker|null} */
let newer = null;

/** Whether newer pages wait. */
export const newerPages = () => newer !== null;

/** @param {() => void} listener */
export function onNewerPages(listener) {
  listeners.add(listener);
  return () => void listeners.delete(listener);
}

/** Takes the newer pages: the worker takes over and the page is loaded again. */
export function takeNewerPages() {
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  newer?.postMessage("take over");
}

/** Registers the worker. Without one the pages work on line only; that is no reason to refuse. */
export async function keepShell() {
  if (!("serviceWorker" in navigator)) return;
  const registration = await navigator.serviceWorker.register("/worker.js", { updateViaCache: "none" }).catch(() => null);
  if (!registration) return;
  const found = (/** @type {ServiceWorker|null} */ worker) => {
    // The first one ever replaces nothing.
    if (!worker || !navigator.serviceWorker.controller) return;
    newer = worker;
    listeners.forEach((listener) => listener());
  };
  found(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const worker = registration.installing;
    worker?.addEventListener("statechange", () => worker.state === "installed" && found(worker));
  });
}
