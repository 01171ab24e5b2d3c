// Every screen of a keeper signs something, and the service takes it: no note is refused, and the
// record says what stood on the button.

import { furnished, noted } from "../support/keeping.mjs";
import { enrol, expect, nurseryOf, open, test } from "../support/pages.mjs";

/** @import { Page } from "@playwright/test" */

/** Signs what stands on the button that bears these words. @param {Page} page @param {RegExp|string} words */
const sign = (page, words) => page.locator("button.sign").filter({ hasText: words }).first().click();
/** @param {Page} page @param {string} name */
const tap = (page, name) => page.getByRole("button", { name, exact: true }).first().click();

/** A number on the big keys. @param {Page} page @param {string} digits */
async function press(page, digits) {
  for (const digit of digits) await page.locator(".keys-pad").first().getByRole("button", { name: digit === "." ? "point" : digit, exact: true }).click();
}

/** Leaves the screen, so that all is signed, and waits until it is recorded. @param {Page} page */
async function recorded(page) {
  await page.goto("/#/waiting");
  const outbox = async () => (await nurseryOf(page)).evaluate((it) => ({ ...it.outbox, problems: it.notes.flatMap(({ type, problem }) => (problem ? [`${type}: ${problem.name} ${problem.detail}`] : [])) }));
  await expect.poll(outbox, { timeout: 30_000 }).toMatchObject({ pending: 0, waiting: 0, refused: 0, problems: [] });
}

/** @param {Page} page @returns {Promise<string[]>} */
const says = async (page) => (await nurseryOf(page)).evaluate(({ notes }) => notes.map((note) => note.says));

test("eggs: looked at, held apart, lost, remarked, hatched, opened, left, missing", async ({ page, house }) => {
  const { eggs, trays } = await furnished(page, house);
  const path = (/** @type {number} */ at) => eggs[at]?.replace("egg/", "egg/") ?? "";
  await open(page, `#/candling/${trays}`);
  await page.getByRole("button", { name: /places filled 60/ }).click();
  await tap(page, "Odd things");
  await tap(page, "cloudy");
  await tap(page, "remark later");
  await tap(page, "Back to the bands");
  await page.locator('[data-band="3"]').click();
  await tap(page, "Not this case");
  await page.getByRole("button", { name: /E-010/ }).click();
  await expect(page.locator(".case-label")).toHaveText("E-010");
  await page.locator('[data-band="none"]').click();
  await expect(page.locator(".case-label")).toHaveText("E-002");
  await tap(page, "Not in its place");
  await tap(page, "the tank");
  await sign(page, "Not in its place");
  await recorded(page);
  await page.goto("/#/remarks");
  await page.getByLabel("Remark").fill("a hair crack at one end");
  await sign(page, "a hair crack");
  await page.goto("/#/recheck");
  await tap(page, "Hold another case apart");
  await tap(page, "E-003");
  await tap(page, "smell");
  await sign(page, /Held apart · smell/);
  await page.getByRole("button", { name: "It is lost" }).click();
  await tap(page, "cloudy or decomposed");
  await tap(page, "yes, plainly");
  await expect(page.getByText("take a photo of it first")).toBeVisible();
  await page.getByLabel("Take a photo").setInputFiles({ name: "case.png", mimeType: "image/png", buffer: await page.screenshot({ clip: { x: 0, y: 0, width: 40, height: 40 } }) });
  await sign(page, /Lost · apparent cause: cloudy or decomposed · plainly dead · with photo/);
  await recorded(page);
  await page.goto(`/#/hatched/${path(4)}`);
  await page.getByLabel("Label").fill("Y-01");
  await tap(page, "mass");
  await press(page, "19.5");
  await sign(page, /Y-01 alive, 19.5 g drained/);
  await page.goto(`/#/hatched/${path(5)}`);
  await tap(page, "the case was opened");
  await tap(page, "no");
  await tap(page, "end slit widened");
  await tap(page, "open in the water");
  await tap(page, "left to hatch");
  await tap(page, "young trapped");
  await sign(page, /Opened · end slit widened · left to hatch/);
  await page.goto(`/#/opening/${path(6)}`);
  await expect(page.getByText(/So assessed: .*few looks/), "the assessment is there, and chooses nothing").toBeVisible();
  await tap(page, "few looks");
  await sign(page, /Left to hatch · few looks/);
  await recorded(page);
  const told = await says(page);
  expect(told).toContain("First gill threads · moving · cloudy · remark later");
  const all = (await house.read("/v1/eggs?limit=1000")).items;
  const by = (/** @type {number} */ at) => all.find((/** @type {any} */ egg) => egg.id === eggs[at]);
  expect(by(0).looks[0]).toMatchObject({ band: 3, movement: "moving", findings: ["cloudy"] });
  expect(by(1).fate.state).toBe("missing");
  expect(by(2).fate).toMatchObject({ state: "lost", apparent_cause: "cloudy or decomposed" });
  expect(by(4).fate.state).toBe("hatched");
  expect(by(5).openings).toHaveLength(1);
  expect(by(6).left_to_hatch).toHaveLength(1);
  const { notes } = await house.read(`/v1/eggs/${eggs[0]?.split("/")[1]}/history`);
  expect(notes.find((/** @type {any} */ note) => note.kind === "egg.candled.v1")).toMatchObject({ standing: "put right", data: { remark: "a hair crack at one end" } });
});

test("animals: fed one by one, weighed, measured, photographed, moved and met, seen, found dead", async ({ page, house }) => {
  const { animals, trays, adults } = await furnished(page, house);
  const other = (await house.say(["tank", "set-up", "Rearing", "--purpose", "rearing"])).subject;
  await noted(page, [{ type: "animal.moved.v1", subject: animals[2] ?? "", data: { to_tank: other, from_tank: adults } }]);
  expect(trays).not.toBe(other);
  await page.goto("/#/feeding");
  await page.getByRole("button", { name: "Feed" }).first().click();
  await page.getByLabel("Which food").fill("squid");
  await press(page, "1");
  await page.getByRole("group", { name: /A-1/ }).getByRole("button", { name: "ate most" }).click();
  await page.getByRole("group", { name: /A-2/ }).getByRole("button", { name: "spat out" }).click();
  await page.goto(`/#/young/${animals[0]}`);
  await press(page, "420");
  await sign(page, "420 g drained");
  await tap(page, "measure");
  await press(page, "58");
  await sign(page, "58 cm total, measured");
  await tap(page, "photograph");
  await page.getByLabel("Take a photo").setInputFiles({ name: "side.png", mimeType: "image/png", buffer: await page.screenshot({ clip: { x: 0, y: 0, width: 40, height: 40 } }) });
  await tap(page, "whole body");
  await sign(page, "photo, whole body");
  await tap(page, "as seen");
  await tap(page, "rubbing");
  await sign(page, "not as usual");
  await tap(page, "move");
  await tap(page, "Rearing");
  await expect(page.getByText("Already there: A-3")).toBeVisible();
  await tap(page, "quiet");
  await sign(page, /to Rearing/);
  await recorded(page);
  await page.goto(`/#/dead/${animals[1]}`);
  await tap(page, "frozen");
  await page.getByLabel("Where it is kept").fill("freezer 2, bag 7");
  await tap(page, "the veterinarian");
  await sign(page, /A-2 · found dead/);
  await recorded(page);
  const all = (await house.read("/v1/animals?limit=1000")).items;
  const by = (/** @type {number} */ at) => all.find((/** @type {any} */ animal) => animal.id === animals[at]);
  expect(by(0)).toMatchObject({ place: { tank: other }, feeds: 1 });
  expect(by(0).measures.map((/** @type {any} */ one) => one.mass_g ?? one.length_cm)).toEqual([420, 58]);
  expect(by(0).introductions).toHaveLength(1);
  expect(by(0).marks).toHaveLength(1);
  expect(by(1).fate).toMatchObject({ state: "died", apparent_cause: "not determined" });
  expect(by(1).afterwards).toMatchObject({});
});

test("the house: water, a tank not well, a search that found nothing, an incident, a hand-over", async ({ page, house }) => {
  const { adults } = await furnished(page, house);
  const { subject: system } = await house.say(["system", "set-up", "System A", "--water", "tropical"]);
  await house.say(["tank", "join", "Adults", "--system", "System A"]);
  await house.say(["instrument", "install", "probe 3", "--measures", "temperature,pH", "--system", "System A"]);
  await page.goto("/#/water");
  await page.getByRole("button", { name: "Read a probe" }).click();
  await press(page, "29.5");
  await expect(page.getByText(/outside the band 23 to 27/)).toBeVisible();
  await sign(page, /Temperature 29.5 °C · probe 3/);
  await page.goto("/#/walk");
  await page.getByRole("button", { name: /^More about Adults/ }).click();
  await tap(page, "fighting");
  await press(page, "3");
  await sign(page, /Adults · fighting · 3 seen, whole tank/);
  await page.goto("/#/collect");
  await sign(page, /Adults searched · none/);
  await page.goto("/#/happened");
  await tap(page, "power failure");
  await tap(page, "1 h ago");
  await sign(page, /power failure/);
  await recorded(page);
  await page.goto("/#/happened");
  await page.getByLabel("What was seen, done or learned").fill("back after ten minutes");
  await sign(page, /Since then · back after ten minutes/);
  await recorded(page);
  await page.goto("/#/hand-over");
  await page.getByLabel("What else").fill("door of the tray room sticks");
  const to = page.getByRole("group", { name: "To", exact: true }).getByRole("button").first();
  await to.click();
  await sign(page, /Hand over to/);
  await recorded(page);
  expect((await house.read("/v1/systems")).items.find((/** @type {any} */ one) => one.id === system).last_reading).toMatchObject({ temperature_c: 29.5, instrument: "probe 3" });
  const tank = (await house.read("/v1/tanks")).items.find((/** @type {any} */ one) => one.id === adults);
  expect(tank.last_check).toMatchObject({ all_well: false, findings: ["fighting"], animals_seen: 3 });
  expect(tank.last_search).toMatchObject({ eggs_found: 0, whole_tank: true });
  const [incident] = (await house.read("/v1/incidents")).items;
  expect(incident).toMatchObject({ what: "power failure", notes: [{ words: "back after ten minutes" }] });
  const [duty] = (await house.read("/v1/duty")).items;
  expect(duty.matters.map((/** @type {any} */ matter) => matter.words)).toEqual(["power failure, not finished: power failure", "door of the tray room sticks"]);
});

test("a hand-over is read by name: the colleague's own signature stands beside it", async ({ page, house }) => {
  await house.furnish();
  await enrol(page, house, "Ana");
  await enrol(page, house, "Bela");
  await page.goto("/#/people");
  await page.getByRole("button", { name: /^Ana/ }).click();
  for (const digit of ["1", "2", "3", "4"]) await page.getByRole("button", { name: digit, exact: true }).click();
  await page.getByRole("button", { name: "Enter", exact: true }).click();
  await expect(page.getByRole("link", { name: /^In hand: Ana/ })).toBeVisible();
  await expect(page.locator(".start")).toBeVisible();
  await page.goto("/#/hand-over");
  await page.getByLabel("What else").fill("door of the tray room sticks");
  await page.getByRole("group", { name: "To", exact: true }).getByRole("button", { name: "Bela" }).click();
  await sign(page, "Hand over to Bela · 1 matter");
  await recorded(page);
  await page.goto("/#/hand-over");
  await expect(page.getByText("Bela signs that it was read.")).toBeVisible();
  await page.goto("/#/people");
  await page.getByRole("button", { name: /^Bela/ }).click();
  for (const digit of ["1", "2", "3", "4"]) await page.getByRole("button", { name: digit, exact: true }).click();
  await page.getByRole("button", { name: "Enter", exact: true }).click();
  await expect(page.getByRole("link", { name: /^In hand: Bela/ })).toBeVisible();
  await expect(page.locator(".start")).toBeVisible();
  await page.goto("/#/hand-over");
  await sign(page, "Read by Bela · 1 matter");
  await expect(page.getByText("Read and signed.")).toBeVisible();
  await recorded(page);
  const { notes } = await house.read("/v1/collection/history");
  expect(notes.find((/** @type {any} */ note) => note.kind === "duty.handed_over.v1").endorsed_by).toHaveLength(1);
});

test("a history at two clocks, and the desk's other screens, over a real record", async ({ page, house }) => {
  const { eggs, trays } = await furnished(page, house);
  await open(page, `#/candling/${trays}`);
  await page.getByRole("button", { name: /places filled 60/ }).click();
  await page.locator('[data-band="2"]').click();
  await recorded(page);
  await page.goto(`/#/as-known/${eggs[0]}`);
  await expect(page.getByText("3 notes known")).toBeVisible();
  await page.getByRole("slider", { name: /What the log knew/ }).fill("0");
  await expect(page.getByText(/1 note known, 2 not yet/)).toBeVisible();
  await expect(page.getByText("Not yet known at this size.").first()).toBeVisible();
  for (const [path, words] of [["weeks", "Hatch windows"], ["figures", "Hatch rates, four denominators"], ["opening", "Cases in the last two bands"], [`opening/${eggs[0]}`, "Reasons against"], ["proof", "What a check shows"], [`case/${eggs[0]}`, "Look at it now"], [`sheet/${trays}`, "Page hash"]]) {
    await page.goto(`/#/${path}`);
    await expect(page.getByText(String(words)).first()).toBeVisible();
  }
  await page.goto("/#/proof");
  await page.getByRole("button", { name: "Fetch the record and check it here" }).click();
  await expect(page.getByText(/Every note is as it was signed/).first()).toBeVisible();
  await expect(page.locator('.check[data-state="broken"]')).toHaveCount(0);
  expect(await page.locator('.check[data-state="holds"]').count()).toBeGreaterThan(3);
});
