import { readFileSync } from "node:fs";
import { CHECKS } from "../checks/agreement.mjs";
import { vectors } from "../checks/vectors.mjs";
import { enrol, expect, nurseryOf, open, test } from "../support/pages.mjs";

/** @import { Page } from "@playwright/test" */

test("the agreement holds in the page as it does in node", async ({ browser, house }) => {
  // Without the worker, which knows nothing of what a test puts into the page's way.
  const context = await browser.newContext({ baseURL: house.url, serviceWorkers: "block" });
  const page = await context.newPage();
  const checks = readFileSync(new URL("../checks/agreement.mjs", import.meta.url), "utf8");
  await page.route("**/checks-of-the-agreement.js", (route) => route.fulfill({ contentType: "text/javascript", body: checks }));
  await open(page);
  const faults = await page.evaluate(async (files) => {
    const { CHECKS, load } = await import(/** @type {any} */ ("/checks-of-the-agreement.js"));
    const modules = await load("/agreement/");
    const faults = /** @type {string[]} */ ([]);
    for (const [name, check] of CHECKS) await Promise.resolve(check(modules, files)).catch((error) => faults.push(`${name}: ${error.message}`));
    return [CHECKS.length, faults];
  }, vectors());
  expect(faults).toEqual([CHECKS.length, []]);
  await context.close();
});

test("a device makes its key, a registrar enrols it, and the page checks the receipt", async ({ page, house }) => {
  await enrol(page, house, "Ana");
  const nursery = await nurseryOf(page);
  const [person, extractable, seen] = await nursery.evaluate(async (it) => [it.person, it.keyRows[0]?.privateKey.extractable, await it.store.get("values", "checkpoint")]);
  expect(extractable, "the key cannot be taken out").toBe(false);
  expect(person?.person).toMatch(/^person\//);
  expect(seen, "the newest checkpoint that was verified").toContain("records.example.org/pages\n4\n");
  // A second person on the same device has a key and counts of their own, and a code to change by.
  await enrol(page, house, "Bela", { code: "4321" });
  await page.getByRole("link", { name: /^In hand: Bela/ }).click();
  await page.getByRole("button", { name: /^Ana/ }).click();
  for (const digit of "9999") await page.getByRole("button", { name: digit, exact: true }).click();
  await page.getByRole("button", { name: "Enter" }).click();
  await expect(page.getByText("That is not the code.")).toBeVisible();
  for (const digit of "1234") await page.getByRole("button", { name: digit, exact: true }).click();
  await page.getByRole("button", { name: "Enter" }).click();
  await expect(page.getByRole("link", { name: /^In hand: Ana/ })).toBeVisible();
});

/**
 * Collects cases, as a screen would. @param {Page} page @param {{species: string, adults: string, trays: string}} house @param {string[]} labels
 * @returns {Promise<string[]>}
 */
async function collect(page, { species, adults, trays }, labels) {
  return (await nurseryOf(page)).evaluate(async (nursery, { labels, species, adults, trays }) => {
    const subjects = [];
    for (const label of labels) {
      const subject = nursery.newSubject("egg");
      const data = { label, species, from_tank: adults, to_tank: trays, laid: "single", case: "whole", yolk: "seen" };
      await nursery.act("egg.collected.v1", data, { subject, says: `${label} collected` });
      subjects.push(subject);
    }
    return subjects;
  }, { labels, species, adults, trays });
}

/** @param {Page} page @param {string[]} eggs */
async function candle(page, eggs) {
  return (await nurseryOf(page)).evaluate(async (nursery, eggs) => {
    for (const subject of eggs) await nursery.act("egg.candled.v1", { seen_into: true, band: 4, movement: "moving" }, { subject, says: "gill threads · moving" });
  }, eggs);
}

/** @param {Page} page */
const outboxOf = async (page) => (await nurseryOf(page)).evaluate(({ outbox }) => outbox);

/** Ids, counts and times of what the log holds of a kind, in its order. @param {import("../support/house.mjs").House} house @param {string} kind */
async function recordedOf(house, kind) {
  const { items } = await house.read("/v1/events?limit=1000");
  const events = /** @type {{type: string, subject: string, keycount: number}[]} */ (items.map((/** @type {any} */ item) => item.event));
  return events.filter(({ type }) => type === kind);
}

test("a tap can be taken back until three more cases are done, or the screen is left", async ({ page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  const eggs = await collect(page, rooms, ["A1", "A2", "A3", "A4"]);
  await expect.poll(() => outboxOf(page)).toMatchObject({ pending: 3, waiting: 0, onLine: true });
  const nursery = await nurseryOf(page);
  expect(await nursery.evaluate((it, egg) => it.takeBack(egg ?? ""), eggs[0]), "the first is signed").toBe(false);
  expect(await nursery.evaluate((it, egg) => it.takeBack(egg ?? ""), eggs[3]), "the last is not").toBe(true);
  await page.goto("/#/settings");
  await expect.poll(() => outboxOf(page)).toMatchObject({ pending: 0, waiting: 0 });
  expect((await recordedOf(house, "egg.collected.v1")).map(({ keycount }) => keycount)).toEqual([1, 2, 3]);
});

test("a round off line with a reload in the middle arrives once, in order, and is believed only with receipts", async ({ context, page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  const labels = Array.from({ length: 30 }, (_, at) => `R${at + 1}`);
  const eggs = await collect(page, rooms, labels);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await context.setOffline(true);
  await candle(page, eggs.slice(0, 15));
  await page.reload();
  await expect(page.locator(".bar")).toBeVisible();
  await expect(page.getByRole("link", { name: /^In hand: Ana/ }), "the page and who is in hand are there without a network").toBeVisible();
  await candle(page, eggs.slice(15));
  await page.goto("/#/waiting");
  await expect.poll(() => outboxOf(page)).toMatchObject({ pending: 0, onLine: false, alarm: "calm" });
  expect((await outboxOf(page)).waiting).toBeGreaterThanOrEqual(30);
  expect(await recordedOf(house, "egg.candled.v1")).toEqual([]);
  await context.setOffline(false);
  await expect.poll(() => outboxOf(page), { timeout: 30_000 }).toMatchObject({ pending: 0, waiting: 0, refused: 0, onLine: true });
  const candled = await recordedOf(house, "egg.candled.v1");
  expect(candled.map(({ subject }) => subject), "each once, in the order of the round").toEqual(eggs);
  const counts = [...(await recordedOf(house, "egg.collected.v1")), ...candled].map(({ keycount }) => keycount);
  expect(counts).toEqual(Array.from({ length: 60 }, (_, at) => at + 1));
  const kept = await (await nurseryOf(page)).evaluate(async (it) => (await it.store.getAll("recorded")).map(({ receipt }) => receipt?.split("\n")[0]));
  expect(kept).toEqual(Array(60).fill("c2sp.org/tlog-proof@v1"));
});

test("two windows share no count", async ({ context, page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  const other = await context.newPage();
  await open(other);
  await context.setOffline(true);
  const labels = (/** @type {string} */ letter) => Array.from({ length: 20 }, (_, at) => `${letter}${at + 1}`);
  await Promise.all([collect(page, rooms, labels("L")), collect(other, rooms, labels("M"))]);
  await Promise.all([page, other].map(async (one) => (await nurseryOf(one)).evaluate((it) => it.settle())));
  const waiting = await (await nurseryOf(page)).evaluate(async (it) => (await it.store.getAll("waiting")).map(({ keycount, signatures }) => [keycount, signatures?.length]));
  expect(waiting.map(([count]) => count).sort((a, b) => Number(a) - Number(b))).toEqual(Array.from({ length: 40 }, (_, at) => at + 1));
  expect(waiting.every(([, signatures]) => signatures === 1)).toBe(true);
  await context.setOffline(false);
  await expect.poll(() => outboxOf(page), { timeout: 30_000 }).toMatchObject({ waiting: 0, refused: 0 });
  expect(await recordedOf(house, "egg.collected.v1")).toHaveLength(40);
});

test("a refused note is kept with its reason, and its count is used again", async ({ page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  const nursery = await nurseryOf(page);
  // A case that nobody brought into the record.
  await nursery.evaluate(async (it) => {
    await it.act("egg.candled.v1", { seen_into: false }, { subject: it.newSubject("egg"), says: "could not see in", atOnce: true });
  });
  await expect.poll(() => outboxOf(page)).toMatchObject({ refused: 1, alarm: "refused" });
  await page.goto("/#/waiting");
  await expect(page.getByText("could not see in")).toBeVisible();
  await expect(page.locator(".note .trouble")).toContainText("egg/");
  await collect(page, rooms, ["A1"]);
  await nursery.evaluate((it) => it.settle());
  await expect.poll(() => outboxOf(page)).toMatchObject({ waiting: 0, refused: 1 });
  expect((await recordedOf(house, "egg.collected.v1")).map(({ keycount }) => keycount)).toEqual([1]);
  await page.getByRole("button", { name: "I have read this" }).click();
  await expect.poll(() => outboxOf(page)).toMatchObject({ refused: 0, alarm: "calm" });
  await expect(page.getByText("could not see in"), "it is kept all the same").toBeVisible();
});

test("waiting notes go to a file and come back from it on another device", async ({ browser, context, page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  await context.setOffline(true);
  await collect(page, rooms, ["A1", "A2"]);
  const text = await (await nurseryOf(page)).evaluate((it) => it.saveWaiting());
  expect(text.trim().split("\n")).toHaveLength(2);
  const elsewhere = await browser.newContext({ baseURL: house.url });
  const other = await elsewhere.newPage();
  await open(other);
  await expect.poll(async () => (await nurseryOf(other)).evaluate((it) => it.logKey !== null)).toBe(true);
  expect(await (await nurseryOf(other)).evaluate((it, text) => it.loadWaiting(text), text)).toBe(2);
  await expect.poll(() => outboxOf(other)).toMatchObject({ waiting: 0, refused: 0 });
  const wrong = await (await nurseryOf(other)).evaluate((it, text) => it.loadWaiting(text.replaceAll("A", "B")).catch((error) => error.message), text);
  expect(wrong).toContain("Line 1 of the file is no waiting note");
  await elsewhere.close();
  await context.setOffline(false);
  // What the other device carried in is answered with the old receipts.
  await expect.poll(() => outboxOf(page), { timeout: 30_000 }).toMatchObject({ waiting: 0, refused: 0 });
  expect(await recordedOf(house, "egg.collected.v1")).toHaveLength(2);
});

test("a receipt that does not hold stops the sending, and the note stays", async ({ page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  await page.route("**/v1/events", async (route) => {
    const response = await route.fetch();
    const text = await response.text();
    // One character of the inclusion proof.
    const bent = text.replace(/(\\n)([A-Za-z0-9+/])([A-Za-z0-9+/]{42}=\\n)/, (_, begin, first, rest) => `${begin}${first === "A" ? "B" : "A"}${rest}`);
    expect(bent).not.toBe(text);
    await route.fulfill({ response, body: bent });
  });
  await collect(page, rooms, ["A1"]);
  await page.goto("/#/waiting");
  await expect.poll(() => outboxOf(page)).toMatchObject({ waiting: 1, alarm: "broken" });
  await expect(page.getByRole("alert")).toContainText("does not hold");
  await page.unroute("**/v1/events");
  await page.getByRole("button", { name: /try again/ }).click();
  await expect.poll(() => outboxOf(page)).toMatchObject({ waiting: 0, alarm: "calm" });
});

test("a decision waits at the service until another person has signed it on another device", async ({ browser, page, house }) => {
  await enrol(page, house, "Ana", { roles: "curator" });
  const elsewhere = await browser.newContext({ baseURL: house.url });
  const other = await elsewhere.newPage();
  await enrol(other, house, "Bela", { roles: "registrar" });
  await (await nurseryOf(page)).evaluate((it) => it.act("policy.set.v1", { candling_interval_days: 5 }, { subject: "collection", says: "look every 5 days", atOnce: true }));
  await page.goto("/#/waiting");
  await expect(page.getByText(/signed, waits for curator or registrar/)).toBeVisible();
  expect(await recordedOf(house, "policy.set.v1")).toEqual([]);
  await other.goto("/#/sign");
  await expect(other.getByText("candling interval days")).toBeVisible();
  await other.getByRole("button", { name: "Sign this policy.set.v1" }).click();
  await expect(other.getByText("Signed and recorded")).toBeVisible();
  await expect.poll(() => outboxOf(page), { timeout: 20_000 }).toMatchObject({ waiting: 0, refused: 0 });
  await expect(page.getByText("recorded, receipt checked")).toBeVisible();
  expect(await recordedOf(house, "policy.set.v1")).toHaveLength(1);
  await elsewhere.close();
});

test("the whole record is proved in the page, and a bundle with a bit changed is not", async ({ page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  await candle(page, await collect(page, rooms, ["A1", "A2"]));
  const nursery = await nurseryOf(page);
  await nursery.evaluate((it) => it.settle());
  await expect.poll(() => outboxOf(page)).toMatchObject({ waiting: 0, pending: 0 });
  const proof = await nursery.evaluate((it) => it.prove(() => {}));
  expect(proof.checks.filter(({ outcome }) => outcome !== "holds").map(({ name, outcome }) => `${outcome}: ${name}`)).toEqual(["not here: Those who signed might do so: roles, approvals, thresholds"]);
  expect(proof.checks.map(({ detail }) => detail)).toContain("4 receipts, each for the leaf at its place.");
  await page.route("**/v1/log/bundle", async (route) => {
    const response = await route.fetch();
    const body = await response.body();
    const at = body.indexOf("selachron-leaf/v1") + 30;
    body[at] = (body[at] ?? 0) ^ 1;
    await route.fulfill({ response, body });
  });
  const broken = await nursery.evaluate((it) => it.prove(() => {}));
  expect(broken.holds).toBe(false);
  expect(broken.checks.at(-1)?.detail).toContain("leaves is not the file whose sum stands in SHA256SUMS");
});

test("a photo's copy goes to the service without where it was taken, and the original stays", async ({ page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  const [egg] = await collect(page, rooms, ["A1"]);
  const nursery = await nurseryOf(page);
  const kept = await nursery.evaluate(async (it, subject) => {
    const canvas = new OffscreenCanvas(3000, 1500);
    canvas.getContext("2d")?.fillRect(0, 0, 900, 900);
    const jpeg = new Uint8Array(await (await canvas.convertToBlob({ type: "image/jpeg" })).arrayBuffer());
    // What a camera writes beside the picture: an APP1 segment after the first two bytes.
    const beside = new TextEncoder().encode("Exif\0\0 GPSLatitude 38.7 GPSLongitude -9.1");
    const segment = new Uint8Array([0xff, 0xe1, 0, beside.length + 2, ...beside]);
    const original = new File([jpeg.slice(0, 2), segment, jpeg.slice(2)], "case.jpg", { type: "image/jpeg", lastModified: 1_783_238_400_000 });
    const photo = await it.keepPhoto(original);
    const { taken_ms, ...names } = photo;
    await it.act("egg.candled.v1", { seen_into: true, band: 4, movement: "moving", ...names }, { subject: subject ?? "", says: "with a photo", atOnce: true });
    return { ...photo, original_bytes: original.size };
  }, egg);
  expect(kept.taken_ms).toBe(1_783_238_400_000);
  await expect.poll(async () => (await nursery.evaluate(async (it) => (await it.store.getAll("files")).map(({ sent }) => sent))), { timeout: 20_000 }).toEqual([true]);
  const copy = Buffer.from(await house.file(`/v1/evidence/${kept.photo_copy_sha256}`));
  expect(copy.includes("GPS")).toBe(false);
  const size = await page.evaluate(async (bytes) => {
    const { width, height } = await createImageBitmap(new Blob([new Uint8Array(bytes)]));
    return [width, height];
  }, [...copy]);
  expect(size).toEqual([2048, 1024]);
  await expect(house.file(`/v1/evidence/${kept.photo_sha256}`), "the original is not sent").rejects.toThrow(/not-found|no file/);
});

test("a registrar enrols a tablet from another one, without a desk", async ({ browser, page, house }) => {
  await enrol(page, house, "Rui", { roles: "registrar" });
  const elsewhere = await browser.newContext({ baseURL: house.url });
  const other = await elsewhere.newPage();
  await open(other, "#/people");
  await other.getByLabel("Name, as it is shown").fill("Ana");
  await other.getByLabel("Short code").fill("1234");
  await other.getByRole("button", { name: "Make the key" }).click();
  const publicKey = (await other.locator("code.wrap").first().textContent()) ?? "";
  await page.goto("/#/enrol");
  await page.getByLabel("Public key").fill("nonsense");
  await page.getByLabel("Device, in words").fill("tray room tablet");
  await expect(page.getByText("44 characters of base64")).toBeVisible();
  await page.getByLabel("Public key").fill(publicKey);
  await page.getByRole("button", { name: "keeper", exact: true }).click();
  await page.getByRole("button", { name: "Sign: enrol this key as keeper" }).click();
  await expect(page.getByText("Left for the device")).toBeVisible();
  await other.getByRole("button", { name: /^Sign: this key is here, as keeper on tray room tablet/ }).click();
  await expect(other.getByText("Ana: keeper")).toBeVisible();
  await expect.poll(() => outboxOf(page), { timeout: 20_000 }).toMatchObject({ waiting: 0, refused: 0 });
  await elsewhere.close();
});

test("what a round needs is read ahead, so that a screen opens off line that was never open", async ({ context, page, house }) => {
  await house.furnish();
  await enrol(page, house, "Ana");
  const nursery = await nurseryOf(page);
  const labels = () => nursery.evaluate((it) => it.reading("/v1/tanks?limit=1000")?.body.items.map((/** @type {any} */ tank) => tank.label).sort() ?? null);
  await expect.poll(labels, { timeout: 20_000 }).toEqual(["Adults", "Trays"]);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await context.setOffline(true);
  await page.reload();
  await expect(page.locator(".bar")).toBeVisible();
  expect(await (await nurseryOf(page)).evaluate((it) => it.reading("/v1/tanks?limit=1000")?.body.items.length)).toBe(2);
  // A list longer than a page is read whole.
  await context.setOffline(false);
  const read = await (await nurseryOf(page)).evaluate(async (it) => (await it.read("/v1/tanks?limit=1")).body);
  expect([read.items.length, read.next]).toEqual([2, undefined]);
});

test("the log's next key is followed on the word of the root keys, and the record is still proved", async ({ page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  await collect(page, rooms, ["A1"]);
  const nursery = await nurseryOf(page);
  await nursery.evaluate((it) => it.settle());
  await expect.poll(() => outboxOf(page)).toMatchObject({ waiting: 0, pending: 0 });
  const before = await nursery.evaluate((it) => it.house?.fingerprint);
  await house.rekey();
  await nursery.evaluate((it) => it.lookUpKeys());
  await expect.poll(() => nursery.evaluate((it) => it.house?.fingerprint)).not.toBe(before);
  await candle(page, await collect(page, rooms, ["A2"]));
  await nursery.evaluate((it) => it.settle());
  await expect.poll(() => outboxOf(page)).toMatchObject({ waiting: 0, pending: 0, alarm: "calm" });
  const proof = await nursery.evaluate((it) => it.prove(() => {}));
  expect(proof.checks.filter(({ outcome }) => outcome === "broken")).toEqual([]);
  // After a reload the new key is the one that is pinned.
  await page.reload();
  await expect(page.locator(".bar")).toBeVisible();
  expect(await outboxOf(page)).toMatchObject({ alarm: "calm" });
});

test("another log at the same address is noticed before anything is sent", async ({ context, page, house }) => {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  await context.setOffline(true);
  await collect(page, rooms, ["A1"]);
  await context.setOffline(false);
  // The address now answers with another log's key.
  await page.route("**/v1/collection", async (route) => {
    const response = await route.fetch();
    const body = await response.json();
    await route.fulfill({ response, json: { ...body, log_vkey: "records.example.org/pages+2f8c03f8+AT1AF8PoQ4lakrcKp00bfrycmCzPLsSWjMDNVfEq9GYM" } });
  });
  await page.route("**/v1/events", (route) => route.abort());
  await (await nurseryOf(page)).evaluate((it) => it.choose(it.person?.keyid ?? "", "1234"));
  await expect.poll(() => outboxOf(page)).toMatchObject({ alarm: "broken" });
  await page.goto("/#/waiting");
  await expect(page.getByRole("alert")).toContainText("another log key");
});
