import { enrol, expect, nurseryOf, test } from "../support/pages.mjs";

test("a keeper's day begins: Today, Trays, Collect and Candling open from the real service", async ({ page, house }) => {
  await house.furnish();
  await enrol(page, house, "Ana");
  for (const [path, name] of [["", "today"], ["trays", "trays"], ["collect", "collect"], ["walk", "walk"], ["feeding", "feeding"], ["water", "water"], ["weeks", "weeks"], ["proof", "proof"]]) {
    await page.goto(`/#/${path}`);
    await expect(page.locator("main.screen > *").first()).toBeVisible();
    await page.waitForTimeout(300);
    await page.screenshot({ path: test.info().outputPath(`${name}.png`), fullPage: true });
  }
  expect(await (await nurseryOf(page)).evaluate(({ outbox }) => outbox.alarm)).toBe("calm");
});
