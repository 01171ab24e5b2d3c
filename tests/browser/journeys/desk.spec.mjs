// The desk: putting right from a history, decisions with what was assessed, a case put down, and what
// changed since one last looked. Each is taken by the service as it stood on the button.

import { furnished } from "../support/keeping.mjs";
import { enrol, expect, nurseryOf, open, test } from "../support/pages.mjs";

/** @import { Page } from "@playwright/test" */

/** @param {Page} page @param {RegExp|string} words */
const sign = (page, words) => page.locator("button.sign").filter({ hasText: words }).first().click();
/** @param {Page} page @param {string} name */
const tap = (page, name) => page.getByRole("button", { name, exact: true }).first().click();

/** All that was signed here is recorded, and none was refused. @param {Page} page */
async function recorded(page) {
  const outbox = async () => (await nurseryOf(page)).evaluate((it) => ({ ...it.outbox, problems: it.notes.flatMap(({ type, problem }) => (problem ? [`${type}: ${problem.name} ${problem.detail}`] : [])) }));
  await expect.poll(outbox, { timeout: 30_000 }).toMatchObject({ pending: 0, waiting: 0, refused: 0, problems: [] });
}

/** A look at a case, by this page's device. @param {Page} page @param {string} egg @param {Record<string, any>} [data] */
async function looked(page, egg, data = { seen_into: true, band: 4, movement: "moving" }) {
  await (await nurseryOf(page)).evaluate((it, [subject, said]) => it.act("egg.candled.v1", /** @type {any} */ (said), { subject: String(subject), says: "a look", atOnce: true }), [egg, data]);
  await recorded(page);
}

test("from a history a note is put right, then taken back, then restored, and all of it stays visible", async ({ page, house }) => {
  const { eggs } = await furnished(page, house);
  const egg = eggs[0] ?? "";
  await looked(page, egg);
  await page.goto(`/#/as-known/${egg}`);
  const note = page.locator(".told-note").filter({ hasText: "Candled" });
  await note.getByRole("button", { name: "Put right" }).click();
  await tap(page, "something of it was otherwise");
  await tap(page, "band");
  await note.getByLabel("It was").fill("9");
  await expect(page.getByText("9 cannot be: a note holds 0 to 7, whole.")).toBeVisible();
  await expect(note.locator("button.sign")).toBeDisabled();
  await note.getByLabel("It was").fill("5");
  await note.getByLabel("Why").fill("tapped beside it");
  await sign(page, /Put right · band: 4 → 5 · because: tapped beside it/);
  await recorded(page);
  await expect(note).toHaveAttribute("data-standing", "put right");
  await expect(note.getByText("tapped beside it")).toBeVisible();
  // A second act keeps what the first put right.
  await note.getByRole("button", { name: "Put right" }).click();
  await tap(page, "something of it was otherwise");
  await tap(page, "movement");
  await tap(page, "still");
  await note.getByLabel("Why").fill("seen again on the film");
  await sign(page, /Put right · movement: moving → still/);
  await recorded(page);
  const item = async () => (await house.read(`/v1/eggs/${egg.split("/")[1]}`)).item;
  expect((await item()).looks).toMatchObject([{ band: 5, movement: "still" }]);
  await note.getByRole("button", { name: "Put right" }).click();
  await tap(page, "it did not happen so");
  await note.getByLabel("Why").fill("another case was in the hand");
  await sign(page, /It did not happen so · Candled/);
  await recorded(page);
  await expect(note).toHaveAttribute("data-standing", "taken back");
  expect((await item()).looks).toEqual([]);
  await note.getByRole("button", { name: "Put right" }).click();
  await tap(page, "it did happen so after all");
  await note.getByLabel("Why").fill("it was this one");
  await sign(page, /It did happen so after all/);
  await recorded(page);
  expect((await item()).looks).toHaveLength(1);
  // Only what is known now is acted on: in the past of a slider nothing is put right.
  await page.getByRole("slider", { name: /What the log knew/ }).fill("0");
  await expect(page.getByRole("button", { name: "Put right" })).toHaveCount(0);
});

test("a decision on an opening carries what was assessed when it was begun, and so does a case that is left", async ({ browser, page, house }) => {
  const { eggs } = await furnished(page, house);
  const egg = eggs[0] ?? "";
  await looked(page, egg, { seen_into: true, band: 7, movement: "moving" });
  const elsewhere = await browser.newContext({ baseURL: house.url, viewport: { width: 800, height: 1280 } });
  const desk = await elsewhere.newPage();
  await enrol(desk, house, "Cora", { roles: "curator" });
  await desk.goto(`/#/opening/${egg}`);
  await desk.getByRole("button", { name: "few looks", exact: true }).first().click();
  await sign(desk, /Left to hatch · few looks .*as assessed at \d+ notes/);
  await desk.goto("/#/waiting");
  await recorded(desk);
  await desk.goto(`/#/opening/${egg}`);
  const { item } = await house.read(`/v1/eggs/${egg.split("/")[1]}`);
  const kept = item.left_to_hatch[0].assessment;
  expect(kept).toMatchObject({ standing: expect.any(String), met_by: [], met_by_cases: 0 });
  const text = new TextDecoder().decode(await house.file(`/v1/eggs/${egg.split("/")[1]}/opening?as_of=${encodeURIComponent(kept.as_of)}&known_at=${kept.known_at_size}`));
  const hash = Buffer.from(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text))).toString("hex");
  expect(hash, "the same address gives the same answer again").toBe(kept.answer_sha256);
  await desk.getByRole("button", { name: "Decide together whether it may be opened" }).click();
  await desk.getByRole("group", { name: "What must be met at the time" }).getByRole("button").first().click();
  await desk.getByRole("group", { name: "Who may" }).getByRole("button").first().click();
  await sign(desk, /Opening decided, with a second person .*as assessed at \d+ notes/);
  await expect.poll(async () => (await nurseryOf(desk)).evaluate(({ notes }) => notes.find(({ type }) => type === "opening.authorised.v1")), { timeout: 20_000 }).toMatchObject({ state: "waiting", wants: [{ roles: ["veterinarian", "curator"] }], data: { assessment: { met_by_cases: 0 } } });
  await elsewhere.close();
});

test("a case put down by decision is noted with who decided and why, apart from the losses", async ({ page, house }) => {
  const { eggs } = await furnished(page, house);
  const egg = eggs[2] ?? "";
  await looked(page, egg);
  await page.goto(`/#/case/${egg}`);
  await page.getByRole("link", { name: "It was put down by decision: note it" }).click();
  await expect(page.getByText("It suggests none, and how is neither asked nor written.")).toBeVisible();
  await expect(page.locator("button.sign")).toBeDisabled();
  await page.getByRole("group", { name: "Who decided" }).getByRole("button").first().click();
  await tap(page, "programme advice");
  await tap(page, "yes");
  await page.getByLabel("The decision or protocol it rests on").fill("welfare committee, minute 12");
  await page.reload();
  await expect(page.getByLabel("The decision or protocol it rests on")).toHaveValue("welfare committee, minute 12");
  await sign(page, /Put down by decision · programme advice · the embryo was alive · decided by .* · welfare committee, minute 12/);
  await expect(page.getByRole("button", { name: /^Take back/ }), "it can be taken back for a minute").toBeVisible();
  await page.goto("/#/waiting");
  await recorded(page);
  const { item } = await house.read(`/v1/eggs/${egg.split("/")[1]}`);
  expect(item.fate).toMatchObject({ state: "put_down" });
  const { notes } = await house.read(`/v1/eggs/${egg.split("/")[1]}/history`);
  expect(notes.at(-1)).toMatchObject({ kind: "egg.put_down.v1", data: { reason: "programme advice", alive: "yes", band_last_seen: 4, authority: "welfare committee, minute 12" } });
});

test("what changed since one last looked is remembered, person by person, late notes included", async ({ page, house }) => {
  const { eggs } = await furnished(page, house);
  await open(page, "#/weeks");
  await page.getByRole("button", { name: /^I have looked/ }).click();
  await expect(page.getByText("Nothing about any case or animal.")).toBeVisible();
  // Written late: it happened before the look at this page, and was not known then.
  await house.say(["egg", "candle", "E-001", "--seen-into", "--band", "4", "--movement", "moving"]);
  await house.say(["animal", "move", "A-3", "--to-tank", "Trays"]);
  await expect(page.getByRole("link", { name: /E-001.*first seen into → / })).toBeVisible({ timeout: 20_000 });
  await expect(page.getByRole("link", { name: /A-3.*moved/ })).toBeVisible();
  await page.reload();
  await expect(page.getByRole("button", { name: /^I last looked, today/ })).toHaveAttribute("aria-pressed", "true");
  await expect(page.getByRole("link", { name: /E-001/ })).toBeVisible();
  await page.getByRole("button", { name: /^I have looked/ }).click();
  await expect(page.getByText("Nothing about any case or animal.")).toBeVisible();
  expect(eggs).toHaveLength(60);
});

test("a photo keeps when it was taken and which side as data, and its history shows it", async ({ page, house }) => {
  const { animals } = await furnished(page, house);
  await open(page, `#/young/${animals[0]}`);
  await tap(page, "photograph");
  await page.getByLabel("Take a photo").evaluate(async (field) => {
    const canvas = new OffscreenCanvas(64, 48);
    canvas.getContext("2d")?.fillRect(0, 0, 20, 20);
    const files = new DataTransfer();
    files.items.add(new File([await canvas.convertToBlob()], "side.png", { type: "image/png", lastModified: 1_783_238_400_500 }));
    /** @type {HTMLInputElement} */ (field).files = files.files;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  });
  await tap(page, "left disc");
  await sign(page, "photo, left disc");
  await page.goto("/#/waiting");
  await recorded(page);
  const { notes } = await house.read(`/v1/animals/${animals[0]?.split("/")[1]}/history`);
  expect(notes.at(-1)).toMatchObject({ kind: "animal.identified.v1", data: { place_on_body: "left disc", photo_taken_at: "2026-07-05T08:00:00Z", photo_sha256: expect.stringMatching(/^[0-9a-f]{64}$/) } });
  await page.goto(`/#/as-known/${animals[0]}`);
  await page.getByRole("button", { name: "Show the photo" }).click();
  await expect(page.locator("img.photo")).toBeVisible();
});

test("a trainee's note is marked, and a colleague on the same device signs beside it", async ({ page, house }) => {
  await enrol(page, house, "Tom", { roles: "trainee" });
  await expect(page.getByRole("heading", { level: 1 })).toContainText("trainee");
  const { species, adults, trays } = await house.furnish();
  const nursery = await nurseryOf(page);
  const egg = await nursery.evaluate(async (it, data) => {
    const subject = it.newSubject("egg");
    await it.act("egg.collected.v1", data, { subject, says: "A1 collected", atOnce: true });
    return subject;
  }, { label: "A1", species, from_tank: adults, to_tank: trays, laid: "single", case: "whole", yolk: "seen" });
  await recorded(page);
  await page.goto(`/#/as-known/${egg}`);
  await expect(page.getByText("By a trainee: a colleague's signature beside it is wanted.")).toBeVisible();
  await expect(page.getByRole("button", { name: "Sign beside it" }), "nobody signs beside an own note").toHaveCount(0);
  await enrol(page, house, "Ana", { code: "4321" });
  await page.goto(`/#/as-known/${egg}`);
  await page.getByRole("button", { name: "Sign beside it" }).click();
  await sign(page, /Signed beside by Ana · note \d+ · Found, label: A1/);
  await page.goto("/#/waiting");
  await recorded(page);
  await page.goto(`/#/as-known/${egg}`);
  await expect(page.getByText(/^Signed beside by/)).toBeVisible();
  await expect(page.getByText("By a trainee: a colleague's signature beside it is wanted.")).toHaveCount(0);
  const { notes } = await house.read(`/v1/eggs/${egg.split("/")[1]}/history`);
  expect(notes[0].endorsed_by).toHaveLength(1);
});

test("a hatch is noted with when it was found, and whom to tell is known off line on a screen never opened", async ({ context, page, house }) => {
  const { eggs } = await furnished(page, house);
  const egg = eggs[0] ?? "";
  await open(page, `#/hatched/${egg}`);
  await tap(page, "4 h ago");
  await page.getByLabel("Label").fill("Y-01");
  await sign(page, /Hatched, found hatched · Y-01 alive/);
  await page.goto("/#/waiting");
  await recorded(page);
  const { notes } = await house.read(`/v1/eggs/${egg.split("/")[1]}/history`);
  const hatch = notes.find((/** @type {any} */ note) => note.kind === "egg.hatched.v1");
  expect(hatch).toMatchObject({ kind: "egg.hatched.v1", latereason: "noted when the hands were free" });
  expect(Math.abs(Date.parse(hatch.recorded_at) - Date.parse(hatch.time) - 4 * 3_600_000)).toBeLessThan(120_000);
  const known = async () => (await nurseryOf(page)).evaluate((it) => it.reading("/v1/people") !== null && it.reading("/v1/collection") !== null);
  await expect.poll(known, { timeout: 30_000 }).toBe(true);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await context.setOffline(true);
  await page.reload();
  await page.goto("/#/happened");
  await expect(page.getByText("Whom to tell")).toBeVisible();
});
