// A whole season, to be looked at by whoever has no key: every screen opens on real answers.

import { SCREENS } from "../support/screens.mjs";
import { expect, open, test, watch } from "../support/pages.mjs";
import { season } from "../support/season.mjs";

test("every screen opens on the invented season", async ({ browser }) => {
  test.setTimeout(240_000);
  const { url, end } = await season();
  const context = await browser.newContext({ baseURL: url, viewport: { width: 800, height: 1280 } });
  const faults = watch(context, { url });
  const page = await context.newPage();
  await open(page, "#/about");
  await expect(page.getByText("An invented season with a simulated clock.")).toBeVisible();
  const first = async (/** @type {string} */ noun) => (await page.evaluate(async (path) => (await fetch(path)).json(), `/v1/${noun}s?limit=1`)).items[0].id.split("/")[1];
  const ids = { egg: await first("egg"), tank: await first("tank"), animal: await first("animal") };
  for (const path of SCREENS) {
    const hash = path.replace(":noun/:id", `animal/${ids.animal}`).replace(/:(egg|tank|animal)/, (_, /** @type {keyof typeof ids} */ noun) => ids[noun]);
    await page.goto(`/#${hash}`);
    await expect(page.locator("main.screen > *").first(), hash).toBeVisible();
    await page.waitForTimeout(400);
    await page.screenshot({ path: test.info().outputPath(`${path.replaceAll(/[^a-z]+/g, "-")}.png`), fullPage: true });
  }
  // What the screens read is what the service answers: no figure is passed over.
  await page.goto("/#/figures");
  for (const heading of ["Hatch rates, four denominators", "What becomes of eggs over time", "When did they die?", "Survival of the young", "Opened and unaided"]) await expect(page.getByRole("heading", { name: heading })).toBeVisible();
  await expect(page.getByText("Not known:")).toHaveCount(0);
  await expect(page.getByText(/^Day 90: \d+ % alive, 95 % interval/)).toBeVisible();
  await expect(page.getByText("outcome at the opening")).toBeVisible();
  await page.getByRole("button", { name: "day 120" }).click();
  await expect(page.getByText("Opened from the day of opening on")).toBeVisible();
  await page.getByRole("button", { name: "name them" }).click();
  await expect(page.getByText(/cases? behind it/).first()).toBeVisible();
  await context.close();
  await end();
  expect(faults).toEqual([]);
});
