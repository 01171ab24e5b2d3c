// Files under clients/tankside/vendor are other people's, unmodified. This check compares each with
// the file of the same package that npm installed, whose tarball npm itself compared with the
// integrity in package-lock.json; and with the manifest beside the files, which says the same to
// whoever has no npm at hand.
//
//     node vendored.mjs            compares
//     node vendored.mjs --write    copies the files and writes the manifest anew

import { createHash } from "node:crypto";
import { copyFileSync, mkdirSync, readFileSync, readdirSync, statSync, writeFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const vendor = join(here, "../../clients/tankside/vendor");

/** Which file of which package stands where: package → [file in the package, file here]. */
const FILES = /** @type {Record<string, [string, string][]>} */ ({
  preact: [
    ["dist/preact.mjs", "preact/preact.mjs"],
    ["hooks/dist/hooks.mjs", "preact/hooks.mjs"],
    ["LICENSE", "preact/LICENSE"],
  ],
  htm: [
    ["dist/htm.module.js", "htm/htm.module.js"],
    ["LICENSE", "htm/LICENSE"],
  ],
  idb: [
    ["build/index.js", "idb/index.js"],
    ["LICENSE", "idb/LICENSE"],
  ],
  qr: [
    ["index.js", "qr/index.js"],
    ["decode.js", "qr/decode.js"],
    ["LICENSE", "qr/LICENSE"],
    ["LICENSE-MIT", "qr/LICENSE-MIT"],
  ],
});

const sha256 = (/** @type {string} */ file) => createHash("sha256").update(readFileSync(file)).digest("hex");
const json = (/** @type {string} */ file) => JSON.parse(readFileSync(file, "utf8"));

/** What the manifest should say, from what npm installed. */
function expected() {
  const lock = json(join(here, "package-lock.json"));
  const wanted = json(join(here, "package.json")).devDependencies;
  return Object.entries(FILES).map(([name, files]) => {
    const { version, license } = json(join(here, "node_modules", name, "package.json"));
    const locked = lock.packages[`node_modules/${name}`];
    if (version !== locked.version || version !== wanted[name]) {
      throw new Error(`${name}: installed is ${version}, package-lock.json says ${locked.version}, package.json ${wanted[name]}; run npm ci`);
    }
    const hashed = files.map(([from, to]) => ({ file: to, in_package: from, sha256: sha256(join(here, "node_modules", name, from)) }));
    return { name, version, license, integrity: locked.integrity, files: hashed };
  });
}

/** @returns {string[]} every file below a folder */
function below(/** @type {string} */ folder) {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    return statSync(path).isDirectory() ? below(path) : [relative(vendor, path)];
  });
}

function write() {
  for (const [name, files] of Object.entries(FILES)) {
    for (const [from, to] of files) {
      mkdirSync(dirname(join(vendor, to)), { recursive: true });
      copyFileSync(join(here, "node_modules", name, from), join(vendor, to));
    }
  }
  const about = "Other people's files, unmodified. integrity is that of the registry's tarball; tests/browser/vendored.mjs compares.";
  writeFileSync(join(vendor, "manifest.json"), `${JSON.stringify({ about, packages: expected() }, null, 2)}\n`);
}

/** @returns {string[]} what is wrong, a sentence each */
function faults() {
  const packages = expected();
  const said = JSON.stringify(json(join(vendor, "manifest.json")).packages);
  const wrong = said === JSON.stringify(packages) ? [] : ["vendor/manifest.json is not what npm installed; run node vendored.mjs --write"];
  const files = packages.flatMap((one) => one.files);
  for (const { file, sha256: wanted } of files) {
    if (sha256(join(vendor, file)) !== wanted) wrong.push(`vendor/${file} differs from the registry's file`);
  }
  const known = new Set(["manifest.json", ...files.map(({ file }) => file)]);
  return [...wrong, ...below(vendor).filter((file) => !known.has(file)).map((file) => `vendor/${file} is in no package of the manifest`)];
}

if (process.argv.includes("--write")) write();
const wrong = faults();
wrong.forEach((fault) => console.error(fault));
console.log(`${below(vendor).length} vendored files compared, ${wrong.length} faults`);
process.exitCode = wrong.length === 0 ? 0 : 1;
