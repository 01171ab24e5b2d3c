// The annual report as the service gives it: WCAG 2.2 AA by axe, on screen and as it would be printed,
// and nothing asked of another host.

import { AxeBuilder } from "@axe-core/playwright";
import { expect, test } from "../support/pages.mjs";
import { season } from "../support/season.mjs";

/** A season is played first. */
const SEASON_TEST_MS = 240_000;

/** Tags of the rules of WCAG 2.0 to 2.2, levels A and AA. */
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

/**
 * The page has no fault that axe finds, on screen or on paper, and loads nothing.
 * @param {import("@playwright/test").Browser} browser
 * @param {string} html
 */
async function isSound(browser, html) {
  const context = await browser.newContext();
  /** @type {string[]} */
  const asked = [];
  context.on("request", (request) => asked.push(request.url()));
  const page = await context.newPage();
  await page.setContent(html, { waitUntil: "load" });
  await expect(page.locator("h1").first()).toBeVisible();
  for (const media of /** @type {const} */ (["screen", "print"])) {
    await page.emulateMedia({ media });
    const { violations } = await new AxeBuilder({ page }).withTags(RULES).analyze();
    const told = violations.map(({ id, help, nodes }) => `${id}: ${help}: ${nodes.map(({ target }) => target.join(" ")).join(", ")}`);
    expect(told, `axe, ${media}`).toEqual([]);
  }
  expect(asked.filter((url) => /^https?:/.test(url)), "the report loads nothing").toEqual([]);
  await context.close();
}

test("the annual report of a small house satisfies axe on screen and in print", async ({ browser, house }) => {
  const { species, adults, trays } = await house.furnish();
  await house.say(["egg", "collect", "A-1", "--species", species, "--from-tank", adults, "--laid", "single", "--case", "whole", "--yolk", "seen", "--to-tank", trays]);
  await house.say(["egg", "candle", "A-1", "--seen-into", "--band", "3", "--movement", "moving"]);
  const year = new Date().getFullYear();
  await isSound(browser, new TextDecoder().decode(await house.file(`/v1/reports/annual/${year}?format=html`)));
});

test("so does that of the invented season, with every part filled", async ({ browser }) => {
  test.setTimeout(SEASON_TEST_MS);
  const { url, end } = await season();
  try {
    const answer = await fetch(`${url}/v1/reports/annual/2025?format=html`);
    const html = await answer.text();
    expect(html).toContain("Incubation against temperature");
    await isSound(browser, html);
  } finally {
    await end();
  }
});
