// What every screen must satisfy, whoever made it: WCAG 2.2 AA by axe, in both themes; nothing to
// touch smaller than 48 px; no sideways scroll on 320 px, nor with text at 200 %.

import { AxeBuilder } from "@axe-core/playwright";
import { expect } from "@playwright/test";

/** @import { Page } from "@playwright/test" */

/** Tags of the rules of WCAG 2.0 to 2.2, levels A and AA. */
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
const TARGET_PX = 48;

/**
 * Whether axe is at work: it brings styles of its own along, which the pages' policy refuses and the
 * browser tells of. Nothing of the pages is passed over for that but inline styles, and only then.
 */
export const axe = { atWork: false };

/** @param {Page} page */
function axeOf(page) {
  const builder = new AxeBuilder({ page }).withTags(RULES);
  return {
    analyze: async () => {
      axe.atWork = true;
      const found = await builder.analyze();
      // What it caused is told a moment later.
      await page.evaluate(() => new Promise((told) => setTimeout(told, 50)));
      axe.atWork = false;
      return found;
    },
  };
}

/** @param {Page} page @param {"dark"|"bright"} theme */
async function inTheme(page, theme) {
  await page.evaluate((wanted) => void (document.documentElement.dataset.theme = wanted), theme);
  const { violations } = await axeOf(page).analyze();
  const told = violations.map(({ id, help, nodes }) => `${id}: ${help}: ${nodes.map(({ target }) => target.join(" ")).join(", ")}`);
  expect(told, `axe, ${theme}`).toEqual([]);
}

/** What can be touched and is smaller than it may be. @param {Page} page */
export function smallTargets(page) {
  return page.evaluate((least) => {
    const found = [...document.querySelectorAll("button, a[href], input, select, summary, textarea, [role=button], label.button")];
    const shown = found.filter((element) => element.checkVisibility() && !element.closest("[inert]") && !element.classList.contains("unseen"));
    const small = shown.filter((element) => {
      const { width, height } = element.getBoundingClientRect();
      return width < least - 0.5 || height < least - 0.5;
    });
    return small.map((element) => `${element.tagName.toLowerCase()} "${(element.textContent ?? "").trim().slice(0, 40)}" ${Math.round(element.getBoundingClientRect().width)}×${Math.round(element.getBoundingClientRect().height)}`);
  }, TARGET_PX);
}

/** @param {Page} page */
const sideways = (page) => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);

/** @param {Page} page @param {string} name */
export async function looksRight(page, name) {
  const { theme } = await page.evaluate(() => ({ theme: document.documentElement.dataset.theme === "bright" ? "bright" : "dark" }));
  await inTheme(page, "bright");
  await inTheme(page, "dark");
  expect(await smallTargets(page), `${name}: smaller than ${TARGET_PX} px`).toEqual([]);
  const before = page.viewportSize() ?? { width: 800, height: 1280 };
  await page.setViewportSize({ width: 320, height: 640 });
  expect(await sideways(page), `${name}: 320 px wide`).toBeLessThanOrEqual(0);
  expect(await smallTargets(page), `${name}: smaller than ${TARGET_PX} px on 320 px`).toEqual([]);
  await page.setViewportSize({ width: 640, height: 1280 });
  await page.evaluate(() => void (document.documentElement.style.fontSize = "200%"));
  expect(await sideways(page), `${name}: text at 200 %`).toBeLessThanOrEqual(0);
  await page.evaluate(() => void (document.documentElement.style.fontSize = ""));
  await page.setViewportSize(before);
  await page.evaluate((wanted) => void (document.documentElement.dataset.theme = wanted), theme);
}
