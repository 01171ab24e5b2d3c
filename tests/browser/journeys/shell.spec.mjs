import { createServer } from "node:http";
import { gzipSync } from "node:zlib";
import { looksRight } from "../support/looks.mjs";
import { enrol, expect, nurseryOf, open, test } from "../support/pages.mjs";

/** What may be fetched before the first screen is there, packed. */
const SHELL_BYTES_MAX = 80 * 1024;

test("the pages start from few bytes, break no policy and ask no other host", async ({ page }) => {
  /** @type {Map<string, number>} */
  const sizes = new Map();
  page.on("response", async (response) => {
    const path = new URL(response.url()).pathname;
    if (!path.startsWith("/v1")) sizes.set(path, gzipSync(await response.body()).length);
  });
  await page.addInitScript(() => {
    const held = /** @type {any} */ (globalThis);
    held.violations = [];
    addEventListener("securitypolicyviolation", ({ violatedDirective, blockedURI }) => held.violations.push(`${violatedDirective} ${blockedURI}`));
  });
  await open(page);
  await page.waitForLoadState("networkidle");
  const all = [...sizes.values()].reduce((sum, size) => sum + size, 0);
  expect(all, [...sizes].map(([path, size]) => `${path} ${size}`).join("\n")).toBeLessThanOrEqual(SHELL_BYTES_MAX);
  expect(await page.evaluate(() => /** @type {any} */ (globalThis).violations)).toEqual([]);
});

test("each screen of the shell is for everybody", async ({ page, house }) => {
  await open(page);
  await looksRight(page, "making a key");
  await page.getByLabel("Name, as it is shown").fill("Ana");
  await page.getByLabel("Short code").fill("1234");
  await page.getByRole("button", { name: "Make the key" }).click();
  await expect(page.locator("svg.qr")).toBeVisible();
  await looksRight(page, "enrolling");
  await enrol(page, house, "Bela");
  for (const path of ["people", "device", "waiting", "settings", "about"]) {
    await page.goto(`/#/${path}`);
    await expect(page.locator("main.screen > *").first()).toBeVisible();
    await looksRight(page, path);
    await page.screenshot({ path: test.info().outputPath(`${path}.png`), fullPage: true });
  }
});

test("the registrar's screens, what waits and who is here are for everybody too", async ({ page, house }) => {
  test.setTimeout(120_000);
  await page.clock.install({ time: new Date() });
  await enrol(page, house, "Rui", { roles: "registrar" });
  await page.goto("/#/enrol");
  await page.getByLabel("Public key").fill("nonsense");
  await page.getByRole("button", { name: "keeper", exact: true }).click();
  await looksRight(page, "enrol");
  await page.goto("/#/sign");
  await expect(page.getByText(/^Nothing waits for/)).toBeVisible();
  await looksRight(page, "sign");
  // A refused note, with why; and one that waits for others.
  await (await nurseryOf(page)).evaluate(async (it) => {
    await it.act("egg.candled.v1", { seen_into: false }, { subject: it.newSubject("egg"), says: "Could not see in", atOnce: true }).catch(() => {});
  });
  await page.goto("/#/waiting");
  await expect(page.locator(".note .trouble")).toBeVisible();
  await looksRight(page, "waiting, one refused");
  await page.screenshot({ path: test.info().outputPath("waiting.png"), fullPage: true });
  await page.clock.runFor(16 * 60_000);
  await expect(page.getByText("Who is here?")).toBeVisible();
  await looksRight(page, "who is here");
  await page.screenshot({ path: test.info().outputPath("who is here.png"), fullPage: true });
});

test("by the keyboard alone one gets a key and gets about", async ({ page }) => {
  await open(page);
  const press = async (/** @type {string} */ name) => {
    for (let tries = 0; tries < 40; tries += 1) {
      await page.keyboard.press("Tab");
      const reached = (/** @type {string} */ wanted) => {
        const at = document.activeElement;
        return at !== null && at !== document.body && (at.getAttribute("name") ?? at.textContent ?? "").includes(wanted);
      };
      if (await page.evaluate(reached, name)) return;
    }
    throw new Error(`${name} cannot be reached`);
  };
  await press("name");
  await page.keyboard.type("Ana");
  await press("code");
  await page.keyboard.type("1234");
  await press("Make the key");
  await page.keyboard.press("Enter");
  await expect(page.locator("svg.qr")).toBeVisible();
  await press("Settings");
  await page.keyboard.press("Enter");
  await press("bright");
  await page.keyboard.press("Space");
  await expect(page.locator("html")).toHaveAttribute("data-theme", "bright");
});

test("a browser that cannot sign, or an address that is not secure, is refused in words", async ({ page }) => {
  await page.addInitScript(() => {
    const generate = crypto.subtle.generateKey.bind(crypto.subtle);
    crypto.subtle.generateKey = /** @type {any} */ ((/** @type {any} */ algorithm, /** @type {boolean} */ extractable, /** @type {any} */ usages) => (algorithm.name === "Ed25519" ? Promise.reject(new DOMException("no", "NotSupportedError")) : generate(algorithm, extractable, usages)));
  });
  await page.goto("/");
  await expect(page.getByRole("alert")).toContainText("cannot sign with Ed25519");
  await expect(page.locator("button")).toHaveCount(0);
  const insecure = await page.context().newPage();
  await insecure.addInitScript(() => Object.defineProperty(globalThis, "isSecureContext", { value: false }));
  await insecure.goto("/");
  await expect(insecure.getByRole("alert")).toContainText("This address is not secure");
});

test("wipe deadens the glass, and two touches at once count as none", async ({ page }) => {
  await open(page, "#/settings");
  const bright = page.getByRole("button", { name: "bright, for the office" });
  const box = (await bright.boundingBox()) ?? { x: 0, y: 0, width: 0, height: 0 };
  const at = { clientX: box.x + box.width / 2, clientY: box.y + box.height / 2 };
  // A second finger is down somewhere while the button is tapped.
  await page.evaluate(({ clientX, clientY }) => {
    const pointer = (/** @type {string} */ type, /** @type {number} */ pointerId) => document.elementFromPoint(clientX, clientY)?.dispatchEvent(new PointerEvent(type, { pointerId, clientX, clientY, bubbles: true, pointerType: "touch" }));
    pointer("pointerdown", 1);
    pointer("pointerdown", 2);
    pointer("pointerup", 2);
    pointer("pointerup", 1);
    /** @type {HTMLElement} */ (document.elementFromPoint(clientX, clientY)).click();
  }, at);
  await expect(page.locator("html")).toHaveAttribute("data-theme", "dark");
  await bright.click();
  await expect(page.locator("html")).toHaveAttribute("data-theme", "bright");
  await page.getByRole("button", { name: "Wipe" }).click();
  await expect(page.getByText("The glass is dead")).toBeVisible();
  await page.mouse.click(at.clientX, at.clientY);
  await expect(page.locator(".frame")).toHaveAttribute("inert", "");
  await expect(page.getByText("The glass is dead")).toBeHidden({ timeout: 7_000 });
  await page.getByRole("button", { name: "dark, for the tray room" }).click();
  await expect(page.locator("html")).toHaveAttribute("data-theme", "dark");
});

test("after a quarter of an hour untouched the page asks who is there", async ({ page, house }) => {
  await page.clock.install({ time: new Date() });
  await enrol(page, house, "Ana");
  await page.goto("/#/settings");
  await page.clock.runFor(16 * 60_000);
  await expect(page.getByText("Who is here?")).toBeVisible();
  await expect(page.locator(".frame")).toHaveAttribute("inert", "");
  for (const digit of "1234") await page.getByRole("button", { name: digit, exact: true }).click();
  await page.getByRole("button", { name: "Enter" }).click();
  await expect(page.getByText("Who is here?")).toBeHidden();
});

test("boards hear that the log has grown, across a restart of the service", async ({ page, house }) => {
  await enrol(page, house, "Ana");
  const nursery = await nurseryOf(page);
  await nursery.evaluate((it) => {
    const held = /** @type {any} */ (globalThis);
    held.grown = 0;
    it.onGrown(() => (held.grown += 1));
  });
  const heard = () => page.evaluate(() => /** @type {any} */ (globalThis).grown);
  // Where it stands is told when one begins to listen, which may be over already.
  const first = await heard();
  await house.furnish();
  await expect.poll(heard).toBeGreaterThan(first);
  await house.stop();
  await house.serve();
  const second = await heard();
  await house.say(["tank", "set-up", "Pool", "--purpose", "nursery"]);
  await expect.poll(heard, { timeout: 20_000 }).toBeGreaterThan(second);
});

/** A service whose pages change while tablets have them open. @param {import("../support/house.mjs").House} house */
async function changing(house) {
  const pages = { newer: false };
  const server = createServer(async (request, response) => {
    const answer = await fetch(`${house.url}${request.url}`, { headers: { accept: request.headers.accept ?? "*/*" } });
    const text = Buffer.from(await answer.arrayBuffer());
    const isList = request.url === "/shell-files.js" && pages.newer;
    response.writeHead(answer.status, { "content-type": answer.headers.get("content-type") ?? "", "content-security-policy": answer.headers.get("content-security-policy") ?? "" });
    response.end(isList ? text.toString().replace(/"version":"[0-9a-f]+"/, '"version":"newer"') : text);
  });
  await new Promise((listens) => server.listen(0, "127.0.0.1", () => listens(null)));
  const { port } = /** @type {import("node:net").AddressInfo} */ (server.address());
  return { pages, url: `http://127.0.0.1:${port}`, end: () => server.close() };
}

test("newer pages are fetched by themselves and taken when the person says so", async ({ browser, house }) => {
  const service = await changing(house);
  const context = await browser.newContext({ baseURL: service.url });
  const page = await context.newPage();
  await open(page);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.reload();
  const kept = () => page.evaluate(async () => (await caches.keys()).filter((name) => name.startsWith("shell ")));
  await expect.poll(kept).toHaveLength(1);
  expect(await kept()).not.toEqual(["shell newer"]);
  service.pages.newer = true;
  await page.evaluate(async () => void (await navigator.serviceWorker.ready).update());
  const button = page.getByRole("button", { name: "Newer pages are here: load them" });
  await expect(button, "nothing changes under somebody's hands").toBeVisible();
  await Promise.all([page.waitForEvent("load"), button.click()]);
  await expect(page.locator(".bar")).toBeVisible();
  await expect.poll(kept).toEqual(["shell newer"]);
  await context.close();
  service.end();
});
