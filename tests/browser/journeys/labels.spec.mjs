import { expect, open, test } from "../support/pages.mjs";

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
