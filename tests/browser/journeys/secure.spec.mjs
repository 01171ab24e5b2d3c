// A tablet on the house network: the page comes over TLS under a name of its own, with a certificate
// of the house's authority. The browser is told to trust that one key and no other.

import { createHash, X509Certificate } from "node:crypto";
import { readFileSync } from "node:fs";
import { chromium } from "@playwright/test";
import { House } from "../support/house.mjs";
import { enrol, expect, nurseryOf, test, watch } from "../support/pages.mjs";

const NAME = "record.house.example";

/** The pin of a certificate's key, as Chromium wants it. @param {string} pem */
function pinOf(pem) {
  const key = new X509Certificate(pem).publicKey.export({ type: "spki", format: "der" });
  return createHash("sha256").update(key).digest("base64");
}

/** @param {import("@playwright/test").LaunchOptions} options @param {string[]} [trusts] */
const launched = ({ args = [], ...options }, trusts = []) => chromium.launch({ ...options, args: [...args, `--host-resolver-rules=MAP ${NAME} 127.0.0.1`, ...trusts.map((pin) => `--ignore-certificate-errors-spki-list=${pin}`)] });

test("a tablet opens the page by https under a name of the house, keeps it off line, and signs", async ({ launchOptions }) => {
  test.setTimeout(120_000);
  const house = await House.founded(NAME);
  const browser = await launched(launchOptions, [pinOf(readFileSync(house.at("tls/server.pem"), "utf8"))]);
  const context = await browser.newContext({ baseURL: house.url, viewport: { width: 800, height: 1280 } });
  const faults = watch(context, house);
  const page = await context.newPage();
  const { species, adults, trays } = await house.furnish();
  await enrol(page, house, "Ana");
  expect(await page.evaluate(() => [isSecureContext, location.protocol, location.hostname])).toEqual([true, "https:", NAME]);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await context.setOffline(true);
  await page.reload();
  await expect(page.getByRole("link", { name: /^In hand: Ana/ }), "the worker keeps the page on this name too").toBeVisible();
  const nursery = await nurseryOf(page);
  await nursery.evaluate(async (it, data) => {
    await it.act("egg.collected.v1", data, { subject: it.newSubject("egg"), says: "A1 collected", atOnce: true });
  }, { label: "A1", species, from_tank: adults, to_tank: trays, laid: "single", case: "whole", yolk: "seen" });
  await context.setOffline(false);
  await expect.poll(() => nursery.evaluate(({ outbox }) => outbox), { timeout: 30_000 }).toMatchObject({ pending: 0, waiting: 0, refused: 0 });
  await context.close();
  await browser.close();
  await house.end();
  expect(faults).toEqual([]);
});

test("without the house's authority a browser does not open the page at all", async ({ launchOptions }) => {
  const house = await House.founded(NAME);
  const browser = await launched(launchOptions);
  const page = await (await browser.newContext()).newPage();
  await expect(page.goto(house.url)).rejects.toThrow(/ERR_CERT_AUTHORITY_INVALID/);
  await browser.close();
  await house.end();
});

test("without TLS the same name is no place to sign: the page says so", async ({ house, launchOptions }) => {
  const browser = await launched(launchOptions);
  const page = await (await browser.newContext()).newPage();
  await page.goto(house.url.replace("127.0.0.1", NAME));
  await expect(page.getByRole("alert")).toContainText("This address is not secure");
  await browser.close();
});
