// A house for a journey: a real `selachrond` over a fresh log in a folder of its own, on loopback,
// and the real command line for what the registrar and the curator do at their desks.

import { execFile, spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { promisify } from "node:util";
import { fileURLToPath } from "node:url";

const run = promisify(execFile);
const root = fileURLToPath(new URL("../../../", import.meta.url));
export const binaries = join(process.env.CARGO_TARGET_DIR ?? join(root, "target"), "debug");
/** How long the service may take to start and to stop. */
const START_MS = 20_000;

/** @typedef {import("node:child_process").ChildProcess} ChildProcess */

export class House {
  /** @type {ChildProcess|null} */
  #service = null;
  #port = 0;
  /** By which name tablets reach it, where it has a certificate of the house's own authority. */
  #name = "";

  constructor() {
    this.folder = mkdtempSync(join(tmpdir(), "selachron-house-"));
  }

  /**
   * Founds a log, serves it, and enrols a registrar and somebody who sets up the house.
   * @param {string} [name] a host name: it is then served over TLS, by an authority made here
   */
  static async founded(name = "") {
    const house = new House();
    house.#name = name;
    if (name) await run(join(binaries, "selachrond"), ["tls", "make-ca", house.at("tls"), "--host", name, "--host", "127.0.0.1"]);
    const plan = ["--origin", "records.example.org/pages", "--name", "Invented house", "--country", "PT", "--time-zone", "Europe/Lisbon"];
    await run(join(binaries, "selachrond"), ["init", house.at("log"), "--demo", ...plan]);
    await house.serve();
    for (const name of ["registrar", "curator"]) await house.say(["key", "new", house.at(`${name}.pem`)], null);
    // The first root key has written the founding note, and nothing else.
    await house.say(["key", "recount", house.at("log/keys/root-1.pem"), "--next", "2"], null);
    const roots = ["--with", house.at("log/keys/root-2.pem")];
    await house.say(["key", "enrol", house.at("registrar.pem"), "--roles", "registrar", "--device", "office", ...roots], "log/keys/root-1");
    await house.say(["key", "enrol", house.at("curator.pem"), "--roles", "curator,keeper", "--device", "office", ...roots], "log/keys/root-1");
    return house;
  }

  /** @param {string} name */
  at(name) {
    return join(this.folder, name);
  }

  /** Where a browser finds it. */
  get url() {
    return this.#name ? `https://${this.#name}:${this.#port}` : this.#own;
  }

  /** Where this machine finds it. */
  get #own() {
    return `${this.#name ? "https" : "http"}://127.0.0.1:${this.#port}`;
  }

  /** Starts the service; again at the same address after it was stopped. */
  async serve() {
    const tls = this.#name ? ["--tls-cert", this.at("tls/server.pem"), "--tls-key", this.at("tls/server.key")] : [];
    const args = ["serve", this.at("log"), "--listen", `127.0.0.1:${this.#port}`, ...tls];
    const service = spawn(join(binaries, "selachrond"), args, { stdio: ["ignore", "pipe", "pipe"], env: { ...process.env, SELACHRON_LOG: "warn" } });
    this.#service = service;
    const lines = createInterface({ input: /** @type {import("node:stream").Readable} */ (service.stdout) });
    const errors = /** @type {string[]} */ ([]);
    service.stderr?.on("data", (chunk) => errors.push(String(chunk)));
    const late = setTimeout(() => service.kill(), START_MS);
    const [line] = await Promise.race([
      new Promise((resolve) => lines.once("line", (text) => resolve([text]))),
      new Promise((_, reject) => service.once("exit", (code) => reject(new Error(`selachrond ended with ${code}: ${errors.join("")}`)))),
    ]);
    clearTimeout(late);
    this.#port = Number(new URL(line).port);
  }

  async stop() {
    const service = this.#service;
    if (!service) return;
    this.#service = null;
    const ended = new Promise((resolve) => service.once("exit", resolve));
    service.kill("SIGTERM");
    await ended;
  }

  /** Stops the service and removes the folder. */
  async end() {
    await this.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }

  /**
   * The command line, as JSON.
   * @param {string[]} args @param {string|null} key which key file, without its ending
   * @returns {Promise<any>}
   */
  async say(args, key = "curator") {
    const own = key === null ? [] : ["--key", this.at(`${key}.pem`)];
    const trusted = this.#name ? { SELACHRON_CA: this.at("tls/house-ca.pem") } : {};
    const env = { ...process.env, ...trusted, SELACHRON_URL: this.#own, HOME: this.folder, XDG_CONFIG_HOME: this.at("config"), XDG_STATE_HOME: this.at("state"), XDG_DATA_HOME: this.at("data") };
    try {
      const { stdout } = await run(join(binaries, "selachron"), [...own, "--json", ...args], { env, cwd: this.folder });
      return stdout.trim() === "" ? null : JSON.parse(stdout);
    } catch (error) {
      const { stderr = "", stdout = "" } = /** @type {any} */ (error);
      throw new Error(`selachron ${args.join(" ")}: ${stderr}${stdout}`);
    }
  }

  /** What the service answers to the registrar. @param {string} path @returns {Promise<any>} */
  async read(path) {
    return JSON.parse(new TextDecoder().decode(await this.file(path)));
  }

  /** The same, as bytes. @param {string} path */
  async file(path) {
    const { token } = await this.say(["token"], "registrar");
    const response = await fetch(`${this.url}${path}`, { headers: { authorization: `Bearer ${token}` } });
    if (!response.ok) throw new Error(`${path}: ${await response.text()}`);
    return response.arrayBuffer();
  }

  /** The log changes its key, with an overlap. */
  async rekey() {
    const { stdout } = await run(join(binaries, "selachrond"), ["rekey", this.at("log")]);
    const note = this.at("rekey.json");
    const members = [`log_vkey=${stdout.trim()}`, "overlap_until_size=1000", "reason=a new machine"];
    await this.say(["draft", "log.rekeyed", "collection", note, ...members], "log/keys/root-1");
    await this.say(["approve", note], "log/keys/root-2");
    await this.say(["post", note], "registrar");
  }

  /** A species, a tank of adults and a tank of trays. */
  async furnish() {
    const { subject: species } = await this.say(["species", "list", "--scientific-name", "Inventus exemplaris", "--common-name", "invented shark", "--length-basis", "total"]);
    const { subject: adults } = await this.say(["tank", "set-up", "Adults", "--purpose", "adults"]);
    const { subject: trays } = await this.say(["tank", "set-up", "Trays", "--purpose", "incubation"]);
    return { species, adults, trays };
  }
}
