// A round sheet of paper and back: printed, filled in by hand in the dark, typed in later by keyboard,
// off line, and told by every history as written on paper.

import { fromLocal, instant, localText, moment } from "../../../clients/tankside/screens/parts/days.js";
import { withCamera } from "../support/camera.mjs";
import { looksRight } from "../support/looks.mjs";
import { noted, subjects } from "../support/keeping.mjs";
import { enrol, expect, nurseryOf, open, test } from "../support/pages.mjs";

/** @import { Page } from "@playwright/test" */
/** @import { House } from "../support/house.mjs" */

const ZONE = "Europe/Lisbon";
const MINUTE_MS = 60_000;
const LATE = "written down in the evening";
const CASES = 12;

/** When a journey began, at its whole minute. */
let began_ms = 0;
test.beforeEach(() => void (began_ms = Math.floor(Date.now() / MINUTE_MS) * MINUTE_MS));
/** So many minutes before. @param {number} minutes */
const ago = (minutes) => began_ms - minutes * MINUTE_MS;
/** As answers write a moment. @param {number} at_ms */
const told = (at_ms) => new Date(at_ms).toISOString();
/** As a field for day and clock wants it. @param {number} at_ms */
const field = (at_ms) => localText(at_ms, ZONE);
const label = (/** @type {number} */ at) => `E-${String(at + 1).padStart(3, "0")}`;

/** Two trays and cases that came hours ago, so that a sheet of an hour ago has them. @param {Page} page @param {House} house */
async function kept(page, house) {
  const then = ["--time", instant(ago(300)), "--late", LATE];
  const { subject: species } = await house.say(["species", "list", "--scientific-name", "Inventus exemplaris", "--common-name", "invented shark", "--length-basis", "total", ...then]);
  const [adults, trays, other] = await Promise.all([["Adults", "adults"], ["Trays", "incubation"], ["Other tray", "incubation"]].map(async ([name = "", purpose = ""]) => (await house.say(["tank", "set-up", name, "--purpose", purpose, ...then])).subject));
  await enrol(page, house, "Bela");
  await enrol(page, house, "Ana");
  const eggs = await subjects(page, "egg", CASES);
  const [place = ""] = await subjects(page, "place", 1);
  const early = (/** @type {number} */ minutes) => ({ time: instant(ago(minutes)), late: LATE });
  await noted(page, [
    { type: "place.set_up.v1", subject: place, data: { label: "A1", tank: trays, order: 1, cases_max: 2 }, ...early(299) },
    ...eggs.map((subject, at) => ({ type: "egg.collected.v1", subject, data: { label: label(at), species, from_tank: adults, laid: "single", case: "whole", yolk: "seen", to_tank: trays }, ...early(240) })),
  ]);
  return { species, adults, trays, other, eggs };
}

/** The sheet that the service makes of a tray as it stood then. @param {House} house @param {string} tank @param {number} at_ms */
async function sheetOf(house, tank, at_ms) {
  const { known_at } = await house.read("/v1/collection");
  const { item } = await house.read(`/v1/rounds/sheet?tray=${tank.split("/")[1]}&known_at=${known_at}&as_of=${instant(at_ms + 20_000)}`);
  return { hash: item.page_hash, size: String(known_at), at: field(at_ms) };
}

/** Goes on by Tab alone until something has the focus. @param {Page} page @param {import("@playwright/test").Locator} wanted */
async function tabTo(page, wanted) {
  await expect(wanted).toBeVisible();
  for (let presses = 0; presses < 120; presses += 1) {
    if (await wanted.evaluate((element) => element === document.activeElement)) return;
    await page.keyboard.press("Tab");
  }
  throw new Error(`nobody comes to ${wanted} by keyboard`);
}

/** @param {Page} page @param {string} name */
const button = (page, name) => page.getByRole("button", { name, exact: true });
const row = (/** @type {Page} */ page, /** @type {string} */ name) => page.locator(".paper-head").filter({ hasText: name });
/** @param {Page} page @param {{hash: string, size: string, at: string}} foot */
async function typeFoot(page, { hash, size, at }) {
  await page.getByRole("button", { name: "as its foot says: type in the page hash" }).click();
  await page.getByLabel("Page hash").fill(hash);
  await page.getByLabel("Log size").fill(size);
  await page.getByLabel("Made at").fill(at);
}

/** @param {Page} page */
async function recorded(page) {
  const outbox = async () => (await nurseryOf(page)).evaluate((it) => ({ ...it.outbox, problems: it.notes.flatMap(({ type, problem }) => (problem ? [`${type}: ${problem.name} ${problem.detail}`] : [])) }));
  await expect.poll(outbox, { timeout: 30_000 }).toMatchObject({ pending: 0, waiting: 0, refused: 0, problems: [] });
}

test("a sheet is typed in off line by keyboard alone, over a reload, and histories tell it as from paper", async ({ context, page, house }) => {
  test.setTimeout(150_000);
  const { species, adults, trays, other, eggs } = await kept(page, house);
  const foot = await sheetOf(house, trays, ago(90));
  const [newcomer = ""] = await subjects(page, "egg", 1);
  const early = (/** @type {number} */ minutes) => ({ time: instant(ago(minutes)), late: LATE });
  await noted(page, [
    { type: "egg.moved.v1", subject: eggs[1] ?? "", data: { to_tank: other }, ...early(25) },
    { type: "egg.candled.v1", subject: eggs[2] ?? "", data: { seen_into: true, band: 6, movement: "moving" }, ...early(20) },
    { type: "egg.missing.v1", subject: eggs[3] ?? "", data: { noticed_at: "the daily look" }, ...early(80) },
    { type: "egg.collected.v1", subject: newcomer, data: { label: "E-900", species, from_tank: adults, laid: "single", case: "whole", yolk: "seen", to_tank: trays }, ...early(15) },
  ]);
  const { person: belas } = await (await nurseryOf(page)).evaluate(({ people }) => people.find(({ name }) => name === "Bela") ?? { person: "" });
  await open(page, `#/tray/${trays}`);
  await page.getByRole("link", { name: "Type in a paper sheet" }).click();
  await tabTo(page, page.getByRole("button", { name: "as its foot says: type in the page hash" }));
  await page.keyboard.press("Enter");
  await tabTo(page, page.getByLabel("Page hash"));
  await page.keyboard.type(foot.hash);
  await page.keyboard.press("Tab");
  await page.keyboard.type(foot.size);
  await page.getByLabel("Made at").fill(foot.at);
  await expect(page.getByText(/It is this tray's sheet, made .* the service answers the same page hash/)).toBeVisible();
  const since = page.locator(".paper-since");
  await expect(since).toContainText("The log has grown by 4 notes since this sheet was made.");
  await expect(since).toContainText(/E-002 is no longer in this tray: it stands in Other tray since/);
  await expect(since).toContainText(/E-003 was looked at since: pattern, yolk shrinking, moving/);
  await expect(since).toContainText(/E-004 is no longer in this tray: missing/);
  await expect(since).toContainText(/E-900 stands in this tray since .* and is not on the sheet/);

  await page.evaluate(() => navigator.serviceWorker?.ready);
  await context.setOffline(true);
  for (const [at, sentence] of /** @type {const} */ ([[field(ago(-120)), /^Written on paper at: .* lies in the future, it is .* now\./], [field(ago(95)), /^Written on paper at: .* lies before the sheet was printed,/]])) {
    await page.getByLabel("Written on paper at", { exact: false }).fill(at);
    await expect(page.getByText(sentence).first()).toBeVisible();
  }
  await page.getByLabel("Written on paper at", { exact: false }).fill(field(ago(40)));
  await page.getByLabel("Begun at").fill(field(ago(60)).slice(11));
  await page.getByLabel("Places filled").fill("11");
  await tabTo(page, button(page, "Bela"));
  await page.keyboard.press("Enter");

  await tabTo(page, row(page, "E-001"));
  for (const keys of ["4m", "5s", "3m", "2n", "1", "x", "0"]) {
    for (const key of keys) await page.keyboard.press(key);
    await page.keyboard.press("ArrowDown");
  }
  await expect(row(page, "E-008")).toBeFocused();
  await page.keyboard.press("6");
  await expect(row(page, "E-008")).toContainText("moving, still, or could not tell?");
  // What was typed last is on its way to the disk for a moment.
  const onDisk = async () => (await nurseryOf(page)).evaluate(async (it, [form, egg]) => (await it.store.get("values", `form ${it.person?.keyid} ${form}`))?.values.filled.rows[String(egg)], [`paper ${trays}`, eggs[7]]);
  await expect.poll(onDisk).toEqual({ band: 6 });
  await page.reload();
  await expect(row(page, "E-002"), "what was typed in is there after a reload").toContainText("Gills in, big yolk · still");
  await expect(page.getByText(/not signed yet\. It was kept\./)).toBeVisible();
  await expect(row(page, "E-007")).toContainText("No yolk · movement: could not tell");
  await tabTo(page, row(page, "E-008"));
  await page.keyboard.press("m");
  await page.keyboard.press("Enter");
  await tabTo(page, button(page, "fouled"));
  await page.keyboard.press("Enter");
  await tabTo(page, page.getByLabel("Remark on paper"));
  await page.keyboard.type("m5: a thread of algae");
  await expect(row(page, "E-008"), "letters in a remark tick nothing").toContainText("Pattern, yolk shrinking · moving · fouled · “m5: a thread of algae”");
  await tabTo(page, button(page, "Go on: E-009"));
  await page.keyboard.press("Enter");
  await expect(row(page, "E-009")).toBeFocused();

  const lacks = page.locator("#paper-review ~ .ask-again");
  await expect(lacks, "a case that was gone by then").toContainText(/E-004: missing is recorded for .*, before it was written on paper/);
  await expect(lacks).toContainText("Not looked at: E-009, E-010, E-011, E-012. Say why, below or in the row.");
  await row(page, "E-004").focus();
  await page.keyboard.press("Backspace");
  await expect(page.locator(".paper-row", { has: row(page, "E-003") })).toContainText("that look stays the newest, this one is noted at its own time before it");
  await looksRight(page, "from paper");
  await page.screenshot({ path: test.info().outputPath("from paper.png") });
  await tabTo(page, button(page, "no time"));
  await page.keyboard.press("Enter");
  await expect(lacks).toHaveCount(0);
  const words = page.locator(".paper-notes li");
  await expect(words).toHaveCount(10);
  await expect(words.nth(1)).toContainText(/^Begin the round/);
  await expect(words.nth(3)).toHaveText("E-002 · Gills in, big yolk · still · from paper");
  await expect(words.last()).toContainText("places filled 11, looked at 7 · 4 left, with reason");
  const sign = page.locator("button.sign").filter({ hasText: /Sign 10 notes · written on paper at .* by Bela · entered by Ana/ });
  await tabTo(page, sign);
  const shown = await words.allTextContents();
  await page.keyboard.press("Enter");
  await expect(page.getByText("Trays: the sheet is typed in")).toBeVisible();
  const held = (await (await nurseryOf(page)).evaluate(({ notes }) => notes.filter(({ group }) => group.startsWith("paper ")).map(({ says }) => says)));
  expect(held, "what was shown is what is kept").toEqual(shown);
  await page.getByRole("link", { name: "To the tray" }).click();
  await context.setOffline(false);
  await recorded(page);

  const [round] = (await house.read("/v1/rounds")).items;
  expect(round).toMatchObject({ time: told(ago(60)), not_yet: [], closed: { time: told(ago(40)) }, discrepancies: [] });
  expect(round.closed.not_looked_at.map((/** @type {any} */ one) => one.which).toSorted()).toEqual(eggs.slice(8).toSorted());
  const all = (await house.read("/v1/eggs?limit=1000")).items;
  const by = (/** @type {number} */ at) => all.find((/** @type {any} */ egg) => egg.id === eggs[at]);
  expect([by(1).looks[0].band, by(1).place.tank], "its look is noted, its place is not touched").toEqual([5, other]);
  expect([by(2).looks.map((/** @type {any} */ look) => look.band), by(2).band], "the newer look stays the newest").toEqual([[3, 6], 6]);
  expect([by(3).fate.state, by(3).looks]).toEqual(["missing", []]);
  expect(by(7).looks[0]).toMatchObject({ band: 6, movement: "moving", findings: ["fouled"] });
  const { notes } = await house.read(`/v1/eggs/${eggs[0]?.split("/")[1]}/history`);
  const look = notes.find((/** @type {any} */ note) => note.kind === "egg.candled.v1");
  expect(look).toMatchObject({ from_paper: true, time: told(ago(40)), timeafter: told(ago(60)), latereason: `from paper: sheet ${foot.hash} of Trays, log size ${foot.size}, by ${belas}` });
  await page.goto(`/#/as-known/${eggs[0]}`);
  await expect(page.getByText(`Written on paper at ${moment(ago(40), ZONE)}, entered by Ana: from paper: sheet ${foot.hash} of Trays, log size ${foot.size}, by Bela`)).toBeVisible();
});

test("a sheet printed here is known by its hash; another hash is named; what is taken back is a form again", async ({ context, page, house }) => {
  test.setTimeout(120_000);
  const { trays, eggs } = await kept(page, house);
  await page.addInitScript(() => void (globalThis.print = () => void dispatchEvent(new Event("beforeprint"))));
  await open(page, `#/sheet/${trays}`);
  await page.getByRole("button", { name: "Print this sheet" }).click();
  const hash = (await page.locator(".page-hash").textContent()) ?? "";
  const printed = (await nurseryOf(page)).evaluate((it, tank) => it.form(`printed ${tank}`)?.values.sheets[0], trays);
  const { known_at, as_of, item } = await printed;
  expect([item.page_hash, item.name]).toEqual([hash, `sheet ${hash} of Trays, log size ${known_at}`]);
  expect(await page.locator(".sheet-head .qr").getAttribute("aria-label")).toContain(`sheet ${hash} of ${trays}, log size ${known_at}, as of`);
  await page.emulateMedia({ media: "print" });
  await expect(page.getByRole("button", { name: "Print this sheet" })).toBeHidden();
  await page.screenshot({ path: test.info().outputPath("sheet on paper.png"), fullPage: true });
  await page.emulateMedia({ media: "screen" });
  await looksRight(page, "sheet");
  await page.getByRole("link", { name: "Type in a sheet that is filled in" }).click();

  // Its foot, with a slip of the pen; then none that can be read; then as it was printed here.
  await typeFoot(page, { hash: hash.slice(0, 12), size: "5", at: field(Date.parse(as_of)) });
  await expect(page.getByText("Page hash: it has 16 characters, 0 to 9 and a to f; what is typed in has 12.").first()).toBeVisible();
  await page.getByLabel("Page hash").fill(`${hash.slice(1)}${hash.startsWith("0") ? "1" : "0"}`);
  await page.getByLabel("Log size").fill(String(known_at));
  await expect(page.getByText(/^Page hash: the service makes another one of this tray for that log size and minute/).first()).toBeVisible();
  await page.getByLabel("Log size").fill("99999");
  await expect(page.getByText(/^Log size, made at: the service cannot make that sheet again: .*the log holds \d+ notes/).first()).toBeVisible();
  await page.getByRole("button", { name: new RegExp(`^${hash}, log size ${known_at}, printed here`) }).click();
  await expect(page.getByText(/^Printed from this device,/)).toBeVisible();
  await page.getByLabel("Written on paper at", { exact: false }).fill(field(Date.parse(as_of)));
  await row(page, "E-001").click();
  await page.locator(".paper-opened").getByRole("button", { name: "still" }).click();
  await page.locator('.paper-opened [data-band="4"]').click();
  await expect(page.locator('.paper-opened [data-band="4"]')).toHaveAttribute("aria-pressed", "true");
  await page.locator(".paper-opened").getByRole("button", { name: "Go on: E-002" }).click();
  await page.getByRole("group", { name: /^11 not looked at/ }).getByRole("button", { name: "no time" }).click();
  await context.setOffline(true);
  await page.locator("button.sign").filter({ hasText: /^Sign 3 notes/ }).click();
  await expect(page.getByText("Trays: the sheet is typed in")).toBeVisible();
  await page.getByRole("button", { name: /^Take back the whole sheet/ }).click();
  await expect(row(page, "E-001"), "taken back it is a form again").toContainText("Long gill threads · still");
  expect(await (await nurseryOf(page)).evaluate(({ notes }) => notes.filter(({ group }) => group.startsWith("paper ")).length)).toBe(0);
  await page.locator("button.sign").filter({ hasText: /^Sign 3 notes/ }).click();
  await expect(page.getByText("Trays: the sheet is typed in")).toBeVisible();
  await context.setOffline(false);
  await page.goto("/#/waiting");
  await recorded(page);
  const { notes } = await house.read(`/v1/eggs/${eggs[0]?.split("/")[1]}/history`);
  const look = notes.find((/** @type {any} */ note) => note.kind === "egg.candled.v1");
  expect(look, "it says so however soon it is typed in").toMatchObject({ from_paper: true, time: told(fromLocal(field(Date.parse(as_of)), ZONE) ?? 0) });
  await page.goto(`/#/transcribe/${trays}`);
  await expect(page.getByText("Which sheet is it?")).toBeVisible();
  await expect(page.getByText("It was kept."), "a sheet that is signed is done").toHaveCount(0);
});

test("a round that was open goes on from paper, and a sheet that cannot be compared off line says so", async ({ context, page, house }) => {
  test.setTimeout(120_000);
  const { trays, eggs } = await kept(page, house);
  const foot = await sheetOf(house, trays, ago(90));
  const [round = ""] = await subjects(page, "round", 1);
  await noted(page, [{ type: "round.opened.v1", subject: round, data: { label: "Trays, tonight", what: "candling", eggs, tanks: [trays] }, time: instant(ago(70)), late: LATE }]);
  await open(page, `#/transcribe/${trays}`);
  await expect(page.getByText("Which sheet is it?")).toBeVisible();
  await page.evaluate(() => navigator.serviceWorker?.ready);
  await expect.poll(async () => (await nurseryOf(page)).evaluate((it) => it.reading("/v1/rounds?limit=1000")?.body.items.length)).toBe(1);
  await context.setOffline(true);
  await typeFoot(page, foot);
  await expect(page.getByText(/^It cannot be compared off line: its rows are those of the tray as this device knows it now/)).toBeVisible({ timeout: 30_000 });
  await page.getByLabel("Written on paper at", { exact: false }).fill(field(ago(40)));
  await expect(button(page, "the one that is open, Trays, tonight")).toHaveAttribute("aria-pressed", "true");
  await row(page, "E-003").focus();
  await page.keyboard.press("3");
  await page.keyboard.press("m");
  const sign = page.locator("button.sign").filter({ hasText: /^Sign 1 note/ });
  await expect(page.locator(".paper-notes li")).toHaveText(["E-003 · First gill threads · moving · from paper"]);
  await sign.click();
  await expect(page.getByText("Trays: the sheet is typed in")).toBeVisible();
  await page.getByRole("link", { name: "To the tray" }).click();
  await expect(page.getByText("places filled 12, looked at 1")).toBeVisible();
  await context.setOffline(false);
  await recorded(page);
  const [still] = (await house.read("/v1/rounds")).items;
  expect([still.id, still.looked_at, still.closed]).toEqual([round, [eggs[2]], undefined]);
});

test("the camera reads the code of a sheet that the service printed, and tells that of another tray", async ({ house, launchOptions }) => {
  test.setTimeout(120_000);
  const { browser, context, faults, page, shows } = await withCamera(house, launchOptions);
  const { trays, other } = await kept(page, house);
  // What the camera sees is what stands on the page that the service prints.
  const codeOn = async (/** @type {string} */ tank) => {
    const { known_at } = await house.read("/v1/collection");
    const paper = new TextDecoder().decode(await house.file(`/v1/rounds/sheet?tray=${tank.split("/")[1]}&known_at=${known_at}&as_of=${instant(ago(90) + 30_000)}&format=html`));
    return /aria-label="(sheet [^"]+)"/.exec(paper)?.[1] ?? "";
  };
  const [code, strange] = [await codeOn(trays), await codeOn(other)];
  expect(code).toMatch(/^sheet [0-9a-f]{16} of tank\/\w{26}, log size \d+, as of \d{4}-\d\d-\d\d \d\d:\d\d$/);
  await open(page, `#/transcribe/${trays}`);
  await shows(strange);
  await page.getByRole("button", { name: "Scan the code on the sheet" }).click();
  await expect(page.getByText("This is the sheet of another tray: open that tray first.")).toBeVisible({ timeout: 30_000 });
  await page.getByRole("button", { name: "Scan the code on the sheet" }).click();
  await shows(code);
  await page.getByRole("button", { name: "Scan the code on the sheet" }).click();
  await expect(page.getByText(/the service answers the same page hash/)).toBeVisible({ timeout: 30_000 });
  expect(code).toContain(await page.getByLabel("Page hash").inputValue());
  await expect(page.locator(".paper-head")).toHaveCount(CASES);
  await context.close();
  await browser.close();
  expect(faults).toEqual([]);
});
