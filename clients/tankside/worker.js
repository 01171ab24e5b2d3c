// Keeps the shell for off line. Cache first, for the files of the pages only; what the service
// answers (`/v1`) is never kept here: the pages keep answers themselves, with when they came.
// `shell-files.js` is made by the service from the files it serves: whenever one of them changes,
// so does that list, and with it this worker.

/** @typedef {{version: string, files: string[]}} Shell */

const worker = /** @type {any} */ (self);
worker.importScripts("/shell-files.js");
const SHELL = /** @type {Shell} */ (worker.SHELL);
const CACHE = `shell ${SHELL.version}`;
const NEVER = ["/v1", "/problems", "/healthz", "/readyz", "/worker.js", "/shell-files.js"];

worker.addEventListener("install", (/** @type {any} */ event) => event.waitUntil(keep()));
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(begin()));
worker.addEventListener("message", (/** @type {any} */ event) => event.data === "take over" && worker.skipWaiting());
worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const url = new URL(event.request.url);
  const ours = url.origin === location.origin && event.request.method === "GET";
  if (ours && !NEVER.some((path) => url.pathname === path || url.pathname.startsWith(`${path}/`))) event.respondWith(give(event.request, url));
});

/** All files or none: a shell of which half is older would not start. */
async function keep() {
  const cache = await caches.open(CACHE);
  await cache.addAll(SHELL.files.filter((path) => !NEVER.includes(path)).map((path) => new Request(path, { cache: "no-cache" })));
}

async function begin() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("shell ") && name !== CACHE).map((name) => caches.delete(name)));
  await worker.clients.claim();
}

/** @param {Request} request @param {URL} url */
async function give(request, url) {
  const cache = await caches.open(CACHE);
  const path = request.mode === "navigate" ? "/index.html" : url.pathname;
  return (await cache.match(path)) ?? fetch(request);
}
