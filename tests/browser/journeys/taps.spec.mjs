// What a day costs in taps, through the real screens against a real service: a round of 60 cases off
// line, a pair collected, a walk, a feeding. Every tap is a click on something that can be touched.

import { CASES, furnished, noted } from "../support/keeping.mjs";
import { expect, nurseryOf, open, test } from "../support/pages.mjs";

/** @import { Page } from "@playwright/test" */

/** Counts what is tapped from now on. @param {Page} page */
async function counted(page) {
  let taps = 0;
  return {
    get taps() {
      return taps;
    },
    /** @param {import("@playwright/test").Locator} what */
    tap: async (what) => {
      taps += 1;
      await what.click();
    },
  };
}

test("a round of 60 cases off line costs at most 1.3 taps a case, and the next case is there within 100 ms", async ({ context, page, house }) => {
  test.setTimeout(240_000);
  const { trays, eggs } = await furnished(page, house);
  await open(page, `#/candling/${trays}`);
  await expect(page.getByRole("button", { name: /places filled 60/ })).toBeVisible();
  await page.evaluate(() => navigator.serviceWorker?.ready);
  await context.setOffline(true);
  const hand = await counted(page);
  await hand.tap(page.getByRole("button", { name: /places filled 60/ }));
  await expect(page.locator(".case-label")).toHaveText("E-001");
  await watchCases(page);
  for (let at = 0; at < CASES; at += 1) {
    const label = `E-${String(at + 1).padStart(3, "0")}`;
    await expect(page.locator(".case-label")).toHaveText(label);
    if (at === 30) {
      await page.reload();
      await expect(page.locator(".case-label"), "after a reload the round goes on where it was").toHaveText(label);
      await watchCases(page);
    }
    await expect(page.getByRole("button", { name: "moving", exact: true }), "the switch is back in its place").toHaveAttribute("aria-pressed", "true");
    if (at % 6 === 5) await hand.tap(page.getByRole("button", { name: "still", exact: true }));
    if (at % 30 === 29) {
      await hand.tap(page.getByRole("button", { name: /^Odd things/ }));
      await hand.tap(page.getByRole("button", { name: "fouled" }));
      await hand.tap(page.getByRole("button", { name: "Back to the bands" }));
    }
    await hand.tap(page.locator(`[data-band="${2 + (at % 6)}"]`));
  }
  await expect(page.getByText(/places filled 60, looked at 60/)).toBeVisible();
  await hand.tap(page.getByRole("button", { name: /places filled 60, looked at 60/ }));
  expect(hand.taps / CASES, `${hand.taps} taps`).toBeLessThanOrEqual(1.3);
  const waits = await page.evaluate(() => /** @type {any} */ (globalThis).waits);
  expect(waits.length).toBeGreaterThan(20);
  expect(waits.toSorted((/** @type {number} */ a, /** @type {number} */ b) => a - b)[Math.floor(waits.length * 0.9)], `ms from tap to next case: ${waits.map(Math.round)}`).toBeLessThan(100);
  await context.setOffline(false);
  const outbox = async () => (await nurseryOf(page)).evaluate((it) => it.outbox);
  await expect.poll(outbox, { timeout: 60_000 }).toMatchObject({ pending: 0, waiting: 0, refused: 0, onLine: true });
  const [round] = (await house.read("/v1/rounds")).items;
  expect(round.looked_at).toHaveLength(CASES);
  expect(round.not_yet).toEqual([]);
  expect(round.closed.not_looked_at).toEqual([]);
  const looked = (await house.read("/v1/eggs?limit=1000")).items.filter((/** @type {any} */ egg) => eggs.includes(egg.id));
  expect(looked.map((/** @type {any} */ egg) => egg.looks.length)).toEqual(Array(CASES).fill(1));
  expect(looked.filter((/** @type {any} */ egg) => egg.looks[0].movement === "still")).toHaveLength(10);
});

/** Measures in the page how long it takes from a tap on a band to the next case's label. @param {Page} page */
async function watchCases(page) {
  await page.evaluate(() => {
    const held = /** @type {any} */ (globalThis);
    held.waits ??= [];
    let tapped = 0;
    addEventListener("click", ({ target, timeStamp }) => { if (target instanceof Element && target.closest(".band")) tapped = timeStamp; }, { capture: true });
    new MutationObserver(() => {
      const label = document.querySelector(".case-label")?.textContent ?? "";
      if (tapped > 0 && label !== held.label) {
        held.waits.push(performance.now() - tapped);
        tapped = 0;
      }
      held.label = label;
    }).observe(document.body, { subtree: true, childList: true, characterData: true });
  });
}

test("taking back goes three steps, one big button each", async ({ page, house }) => {
  const { trays } = await furnished(page, house);
  await open(page, `#/candling/${trays}`);
  await page.getByRole("button", { name: /places filled 60/ }).click();
  for (const label of ["E-001", "E-002", "E-003", "E-004"]) {
    await expect(page.locator(".case-label")).toHaveText(label);
    await page.locator('[data-band="4"]').click();
  }
  for (const label of ["E-004", "E-003", "E-002"]) {
    await page.getByRole("button", { name: new RegExp(`^Take back ${label}`) }).click();
    await expect(page.locator(".case-label")).toHaveText(label);
  }
  await expect(page.locator(".take-back-key"), "the first is signed").toHaveCount(0);
});

test("a round goes by the keyboard alone", async ({ page, house }) => {
  const { trays } = await furnished(page, house);
  await open(page, `#/candling/${trays}`);
  await page.getByRole("button", { name: /places filled 60/ }).focus();
  await page.keyboard.press("Enter");
  await expect(page.locator(".case-label")).toHaveText("E-001");
  for (let tries = 0; tries < 30 && !(await page.evaluate(() => document.activeElement?.matches('.band[data-band="4"]'))); tries += 1) await page.keyboard.press("Tab");
  for (const label of ["E-002", "E-003", "E-004"]) {
    await page.keyboard.press("Enter");
    await expect(page.locator(".case-label")).toHaveText(label);
    await expect(page.locator('.band[data-band="4"]'), "one stays at the same band").toBeFocused();
  }
});

test("a pair costs at most 6 taps", async ({ page, house }) => {
  const { adults } = await furnished(page, house);
  await open(page, "#/collect");
  const hand = await counted(page);
  await hand.tap(page.getByRole("button", { name: "Eggs found" }).first());
  for (const at of [0, 1]) await hand.tap(page.getByRole("button", { name: "yolk seen" }).nth(at));
  await hand.tap(page.locator(".sign-wrap.main .sign"));
  expect(hand.taps).toBeLessThanOrEqual(6);
  await page.goto("/#/waiting");
  await expect.poll(async () => (await house.read("/v1/eggs?limit=1000")).items.length).toBe(CASES + 2);
  const found = (await house.read("/v1/eggs?limit=1000")).items.filter((/** @type {any} */ egg) => ["E-061", "E-062"].includes(egg.label));
  expect(found).toHaveLength(2);
  expect(found[0].dam).toMatchObject({ status: "candidates" });
  expect(found[0].dam.animals).toHaveLength(2);
  const [tank] = (await house.read("/v1/tanks")).items.filter((/** @type {any} */ one) => one.id === adults);
  expect(tank.last_search).toMatchObject({ eggs_found: 2, whole_tank: true });
});

test("the walk costs one tap a tank, a feeding as last time less than one an animal", async ({ page, house }) => {
  const { adults, animals } = await furnished(page, house);
  await noted(page, [{ type: "tank.fed.v1", subject: adults, data: { offered: [{ food: "squid", amount_g: 30 }], eaten: "all" } }]);
  const tanks = (await house.read("/v1/tanks")).items.length;
  await open(page, "#/walk");
  const walk = await counted(page);
  await page.getByRole("button", { name: /^Begin the round/ }).click();
  for (let at = 0; at < tanks; at += 1) {
    await walk.tap(page.locator(".walk-well").nth(at));
    await expect(page.locator(".walk-well:disabled")).toHaveCount(at + 1);
  }
  await expect(page.locator(".walk-well:enabled")).toHaveCount(0);
  expect(walk.taps).toBe(tanks);
  await page.getByRole("button", { name: /^Close the round/ }).click();
  await expect(page.locator(".start")).toBeVisible();
  await page.goto("/#/feeding");
  const feeding = await counted(page);
  await feeding.tap(page.getByRole("button", { name: /as last time.*squid, 30 g.*ate all/ }));
  expect(feeding.taps / animals.length).toBeLessThanOrEqual(1.2);
  await page.goto("/#/waiting");
  await expect.poll(async () => (await house.read("/v1/rounds")).items[0]?.closed?.not_looked_at).toEqual([]);
  const [tank] = (await house.read("/v1/tanks")).items.filter((/** @type {any} */ one) => one.id === adults);
  expect(tank.last_fed).toMatchObject({ eaten: "all" });
  expect(tank.last_check).toMatchObject({ all_well: true });
});
