// What journeys do again and again. Every page is watched while it is open: nothing may leave this
// house, break the policy, or fail unseen.

import { expect, test as base } from "@playwright/test";
import { House } from "./house.mjs";
import { axe } from "./looks.mjs";

/** @import { BrowserContext, Page } from "@playwright/test" */

/** @typedef {{house: House, context: BrowserContext, page: Page}} Fixtures */

export const test = /** @type {import("@playwright/test").TestType<Fixtures & import("@playwright/test").PlaywrightTestArgs, import("@playwright/test").PlaywrightWorkerArgs & import("@playwright/test").PlaywrightWorkerOptions>} */ (
  base.extend({
    house: async ({}, use) => {
      const house = await House.founded();
      await use(house);
      await house.end();
    },
    context: async ({ browser, house }, use) => {
      const context = await browser.newContext({ baseURL: house.url, viewport: { width: 800, height: 1280 } });
      const faults = watch(context, house);
      await use(context);
      await context.close();
      expect(faults, "faults of the pages").toEqual([]);
    },
    page: async ({ context }, use) => {
      await use(await context.newPage());
    },
  })
);

export { expect };

/** What goes wrong in a context. @param {BrowserContext} context @param {{url: string}} house */
export function watch(context, house) {
  /** @type {string[]} */
  const faults = [];
  context.on("request", (request) => {
    const url = request.url();
    if (/^https?:/.test(url) && !url.startsWith(`${house.url}/`)) faults.push(`asked another host: ${url}`);
  });
  context.on("weberror", (error) => faults.push(`threw: ${error.error().stack ?? error.error().message}`));
  context.on("console", (message) => {
    const text = message.text();
    // A service that is away, or refuses a token that it cannot know yet, is told by the browser too.
    if (axe.atWork && text.startsWith("Applying inline style")) return;
    if (message.type() === "error" && !text.startsWith("Failed to load resource")) faults.push(`said: ${text}`);
  });
  return faults;
}

/** Opens the pages and waits until they have started. @param {Page} page @param {string} [hash] */
export async function open(page, hash = "") {
  await page.goto(`/${hash}`);
  await expect(page.locator(".bar")).toBeVisible();
}

/**
 * Makes a key on the device, has it enrolled by the registrar at the command line, and signs.
 * @param {Page} page @param {House} house @param {string} name @param {{roles?: string, code?: string}} [as]
 */
export async function enrol(page, house, name, { roles = "keeper", code = "1234" } = {}) {
  await open(page, "#/people");
  const [another, field] = [page.getByRole("button", { name: "Another person uses this device" }), page.getByLabel("Name, as it is shown")];
  await expect(another.or(field)).toBeVisible();
  if (await another.isVisible()) await another.click();
  await field.fill(name);
  await page.getByLabel("Short code").fill(code);
  await page.getByRole("button", { name: "Make the key" }).click();
  await expect(page.getByRole("img", { name: /^QR code/ })).toBeVisible();
  const publicKey = (await page.locator("code.wrap").first().textContent()) ?? "";
  // The root persons together enrol who administers, a registrar all others.
  const byRoots = /curator|registrar/.test(roles);
  const [by, also] = byRoots ? ["log/keys/root-1", ["--with", house.at("log/keys/root-2.pem")]] : ["registrar", []];
  await house.say(["key", "enrol", "--public-key", publicKey, "--roles", roles, "--device", "tray room tablet", "--wait", ...also], by);
  await page.getByRole("button", { name: /^Sign: this key is here/ }).click();
  await expect(page.getByText(`${name}: ${roles}`)).toBeVisible();
}

/** The nursery of a page, to ask and to act with: `(await nurseryOf(page)).evaluate((nursery) => …)`. @param {Page} page */
export function nurseryOf(page) {
  return page.evaluateHandle(async () => {
    const { running } = await import(/** @type {any} */ ("/shell/mount.js"));
    return /** @type {import("../../../clients/tankside/shell/nursery.js").Tankside} */ (running);
  });
}
