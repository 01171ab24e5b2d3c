import { withCamera } from "../support/camera.mjs";
import { CASES, furnished } from "../support/keeping.mjs";
import { enrol, expect, nurseryOf, open, test } from "../support/pages.mjs";

test("a label is read by the worker where the browser has no reader of its own", async ({ page }) => {
  await open(page);
  const found = await page.evaluate(async () => {
    const [{ default: encode }, { reader }] = await Promise.all([import(/** @type {any} */ ("/vendor/qr/index.js")), import(/** @type {any} */ ("/device/scan.js"))]);
    Reflect.deleteProperty(globalThis, "BarcodeDetector");
    const { read, end } = await reader();
    const rows = encode("egg/01JDH3G6C0EGG0000000000001", "raw", { ecc: "medium", border: 4 });
    const scale = 8;
    const canvas = new OffscreenCanvas(rows.length * scale, rows.length * scale);
    const context = /** @type {OffscreenCanvasRenderingContext2D} */ (canvas.getContext("2d"));
    context.fillStyle = "#fff";
    context.fillRect(0, 0, canvas.width, canvas.height);
    context.fillStyle = "#000";
    rows.forEach((/** @type {boolean[]} */ row, /** @type {number} */ y) => row.forEach((dark, x) => dark && context.fillRect(x * scale, y * scale, scale, scale)));
    const picture = context.getImageData(0, 0, canvas.width, canvas.height);
    const blank = new ImageData(200, 200);
    const texts = [await read(blank), await read(picture)];
    end();
    return texts;
  });
  expect(found).toEqual([null, "egg/01JDH3G6C0EGG0000000000001"]);
});

test("the camera reads a label: the case in the hand is found by its code, and a strange code is told", async ({ house, launchOptions }) => {
  test.setTimeout(120_000);
  const { browser, context, faults, page, shows } = await withCamera(house, launchOptions);
  const { trays, eggs } = await furnished(page, house);
  await open(page, `#/candling/${trays}`);
  await page.getByRole("button", { name: /places filled 60/ }).click();
  await expect(page.locator(".case-label")).toHaveText("E-001");
  await shows(eggs[9] ?? "");
  await page.getByRole("button", { name: "Not this case" }).click();
  await page.getByRole("button", { name: "Scan its label" }).click();
  await expect(page.locator(".case-label"), "the code on the label is the case's id").toHaveText("E-010", { timeout: 30_000 });
  // The camera changed what is on the glass: it is deaf until a person can have read it.
  await page.waitForTimeout(900);
  await page.locator('[data-band="4"]').click();
  await expect(page.locator(".case-label")).toHaveText("E-001");
  await shows("egg/01JDH3G6C0EGG0000000000001");
  await page.getByRole("button", { name: "Not this case" }).click();
  await page.getByRole("button", { name: "Scan its label" }).click();
  await expect(page.getByText(/is no case of this tray that is still to come/)).toBeVisible({ timeout: 30_000 });
  await page.getByRole("button", { name: "It is this one" }).click();
  await expect.poll(() => page.evaluate(() => document.querySelectorAll("video").length), "the camera is let go").toBe(0);
  // A label of the house's own, as it stands on the case that was found.
  await page.goto("/#/collect");
  await page.getByRole("button", { name: "Eggs found" }).first().click();
  await shows("E-777");
  await page.getByRole("button", { name: "Scan its label" }).first().click();
  await expect(page.getByLabel("Label of case 1")).toHaveValue("E-777", { timeout: 30_000 });
  await context.close();
  await browser.close();
  expect(faults).toEqual([]);
});

test("a registrar's camera reads the key that another device shows", async ({ house, launchOptions, page }) => {
  test.setTimeout(120_000);
  await open(page, "#/people");
  await page.getByLabel("Name, as it is shown").fill("Bela");
  await page.getByLabel("Short code").fill("1234");
  await page.getByRole("button", { name: "Make the key" }).click();
  const publicKey = (await page.locator("code.wrap").first().textContent()) ?? "";
  const desk = await withCamera(house, launchOptions);
  await enrol(desk.page, house, "Rui", { roles: "registrar" });
  await desk.shows(publicKey);
  await desk.page.goto("/#/enrol");
  await desk.page.getByRole("button", { name: "Scan what the device shows" }).click();
  await expect(desk.page.getByLabel("Public key")).toHaveValue(publicKey, { timeout: 30_000 });
  await expect(desk.page.getByText("Have it read aloud")).toBeVisible();
  await desk.context.close();
  await desk.browser.close();
  expect(desk.faults).toEqual([]);
});

test("labels of a tray print from the page, one code a case, and say the case's id", async ({ page, house }) => {
  const { trays, eggs } = await furnished(page, house);
  await open(page, `#/tray/${trays}`);
  await page.getByRole("link", { name: "Labels to print" }).click();
  await expect(page.locator(".label-sticker")).toHaveCount(CASES);
  await expect(page.locator(".label-sticker").first().getByRole("img")).toHaveAttribute("aria-label", `QR code of ${eggs[0]}`);
  await page.getByRole("button", { name: "this tank" }).click();
  await expect(page.locator(".label-sticker")).toHaveCount(1);
  await page.emulateMedia({ media: "print" });
  await expect(page.locator(".bar")).toBeHidden();
  await page.screenshot({ path: test.info().outputPath("labels on paper.png"), fullPage: true });
  const pdf = await page.pdf({ format: "A4" });
  expect(pdf.length).toBeGreaterThan(1_000);
  expect(await (await nurseryOf(page)).evaluate(({ outbox }) => outbox.alarm)).toBe("calm");
});
