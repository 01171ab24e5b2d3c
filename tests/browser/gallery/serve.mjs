// Serves the pages and the gallery on loopback, with the policy that the service sets.
//
//     node gallery/serve.mjs 4173
//     node gallery/serve.mjs 4173 http://127.0.0.1:8080     passes reads on to an open service

import { createHash } from "node:crypto";
import { createReadStream, existsSync, readFileSync, statSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, normalize } from "node:path";
import { fileURLToPath } from "node:url";

const here = fileURLToPath(new URL(".", import.meta.url));
const pages = fileURLToPath(new URL("../../../clients/tankside/", import.meta.url));
const axe = fileURLToPath(new URL("../node_modules/axe-core/axe.min.js", import.meta.url));
const TYPES = /** @type {Record<string, string>} */ ({ ".js": "text/javascript", ".mjs": "text/javascript", ".css": "text/css", ".html": "text/html; charset=utf-8", ".svg": "image/svg+xml", ".png": "image/png", ".webmanifest": "application/manifest+json" });

const shown = readFileSync(join(pages, "index.html"), "utf8").replace('src="/app.js"', 'src="/gallery/gallery.js"');
const map = /<script type="importmap">([\s\S]*?)<\/script>/.exec(shown)?.[1] ?? "";
const policy = `default-src 'none'; script-src 'self' 'sha256-${createHash("sha256").update(map).digest("base64")}'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'`;

/** @param {string} path */
function fileOf(path) {
  if (path === "/axe.js") return axe;
  const [root, rest] = path.startsWith("/gallery/") ? [here, path.slice("/gallery/".length)] : [pages, path.slice(1)];
  const file = normalize(join(root, rest));
  return file.startsWith(root) && existsSync(file) && statSync(file).isFile() ? file : null;
}

const service = process.argv[3];

/** @param {import("node:http").ServerResponse} response @param {string} url */
async function passOn(response, url) {
  const answer = await fetch(url, { headers: { accept: "application/json" } });
  response.writeHead(answer.status, { "content-type": answer.headers.get("content-type") ?? "" });
  response.end(Buffer.from(await answer.arrayBuffer()));
}

const server = createServer((request, response) => {
  if (service && request.url?.startsWith("/v1/")) return void passOn(response, service + request.url);
  const path = decodeURIComponent(new URL(request.url ?? "/", "http://localhost").pathname);
  if (path === "/" || path === "/gallery/") {
    response.writeHead(200, { "content-type": "text/html; charset=utf-8", "content-security-policy": policy });
    response.end(shown);
    return;
  }
  const file = fileOf(path);
  if (!file) return void response.writeHead(404).end();
  response.writeHead(200, { "content-type": TYPES[extname(file)] ?? "application/octet-stream" });
  createReadStream(file).pipe(response);
});
server.listen(Number(process.argv[2] ?? 4173), "127.0.0.1", () => console.log("gallery ready"));
