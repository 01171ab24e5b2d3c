// Every screen with invented data and no service: for everybody, on every glass, in both themes.

import { spawn } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";
import { expect, test } from "@playwright/test";
import { axe, looksRight } from "../support/looks.mjs";

const PORT = 4700 + (process.pid % 900);
const ID = (/** @type {number} */ number) => `01K9GANTRY0000000000${String(number).padStart(6, "0")}`;

/** Name → [hash, what was done before, what is tapped before one looks]. @type {Record<string, [string, string?, string[]?]>} */
const LOOKS = {
  today: ["/"],
  trays: ["/trays"],
  tray: [`/tray/tank/${ID(1)}`, "begun=3", ["End the round before the last case"]],
  "candling start": [`/candling/tank/${ID(1)}`, "", ["I count another number"]],
  candling: [`/candling/tank/${ID(1)}`, "begun=3"],
  "candling odd": [`/candling/tank/${ID(1)}`, "begun=3", ["Odd things"]],
  "candling other": [`/candling/tank/${ID(1)}`, "begun=3", ["Not this case"]],
  "candling gone": [`/candling/tank/${ID(1)}`, "begun=3", ["Not in its place"]],
  "candling end": [`/candling/tank/${ID(1)}`, "begun=10"],
  "look again": [`/candling/egg/${ID(25)}`],
  case: [`/case/egg/${ID(7)}`],
  recheck: ["/recheck", "", ["It is lost", "Hold another case apart"]],
  hatched: ["/hatched"],
  "hatched one": [`/hatched/egg/${ID(7)}`, "", ["It may have come", "length"]],
  "hatched opened": [`/hatched/egg/${ID(7)}`, "", ["the case was opened"]],
  collect: ["/collect"],
  "collect pair": ["/collect", "", ["Eggs found"]],
  walk: ["/walk", "", ["More about Adults 1: what is not well, a count, a temperature"]],
  feeding: ["/feeding", "", ["Otherwise, or one by one"]],
  water: ["/water", "", ["Read a probe", "7"]],
  young: ["/young"],
  "young weighed": [`/young/animal/${ID(7)}`],
  "young moved": [`/young/animal/${ID(7)}`, "", ["move", "Adults 1"]],
  "young seen": [`/young/animal/${ID(7)}`, "", ["as seen"]],
  dead: [`/dead/animal/${ID(7)}`, "", ["frozen"]],
  happened: ["/happened", "", ["power failure", "Only equipment failed"]],
  "hand-over": ["/hand-over"],
  remarks: ["/remarks"],
  sheet: [`/sheet/tank/${ID(1)}`],
  "from paper": [`/transcribe/tank/${ID(1)}`, "", ["as its foot says"]],
  "from paper half": [`/transcribe/tank/${ID(1)}`, "paper=half", ["E-005"]],
  "from paper whole": [`/transcribe/tank/${ID(1)}`, "paper=whole"],
  "long from paper": [`/transcribe/tank/${ID(1)}`, "long&paper=whole"],
  labels: [`/labels/tank/${ID(1)}`],
  weeks: ["/weeks", "", ["The same in words"]],
  figures: ["/figures"],
  opening: ["/opening"],
  "opening one": [`/opening/egg/${ID(7)}`, "role=curator", ["Decide together"]],
  "put down": [`/put-down/egg/${ID(7)}`],
  "as known": ["/as-known"],
  "as known egg": [`/as-known/egg/${ID(4)}`, "", ["Keep this moment"]],
  "long today": ["/", "long"],
  "long tray": [`/tray/tank/${ID(1)}`, "long&begun=3"],
  "long candling": [`/candling/tank/${ID(1)}`, "long&begun=3"],
  "long collect": ["/collect", "long", ["Eggs found"]],
  "long feeding": ["/feeding", "long", ["Otherwise, or one by one"]],
  "long hand-over": ["/hand-over", "long"],
  "long weeks": ["/weeks", "long", ["The same in words"]],
  "long opening": [`/opening/egg/${ID(7)}`, "role=curator&long", ["Decide together"]],
  "long labels": [`/labels/tank/${ID(1)}`, "long"],
  "long walk": ["/walk", "long"],
  "long sheet": [`/sheet/tank/${ID(1)}`, "long"],
  "put right": [`/as-known/egg/${ID(4)}`, "", ["Put right", "something of it was otherwise", "when it happened"]],
  "put right not so": [`/as-known/egg/${ID(4)}`, "", ["Put right", "it did not happen so"]],
  proof: ["/proof", "", ["Fetch the record and check it here"]],
};

/** @type {import("node:child_process").ChildProcess} */
let server;
test.beforeAll(async () => {
  server = spawn(process.execPath, [fileURLToPath(new URL("../gallery/serve.mjs", import.meta.url)), String(PORT)], { stdio: ["ignore", "pipe", "inherit"] });
  await once(/** @type {import("node:stream").Readable} */ (server.stdout), "data");
});
test.afterAll(() => void server.kill());

for (const [name, [hash, query = "", taps = []]] of Object.entries(LOOKS)) {
  test(`the screen ${name} is for everybody`, async ({ page }) => {
    const odd = /** @type {string[]} */ ([]);
    page.on("pageerror", (error) => odd.push(error.message));
    page.on("console", (message) => message.type() === "error" && !axe.atWork && odd.push(message.text()));
    page.on("request", (request) => new URL(request.url()).hostname === "127.0.0.1" || request.url().startsWith("blob:") || odd.push(request.url()));
    await page.goto(`http://127.0.0.1:${PORT}/gallery/?${query}#${hash}`);
    await expect(page.locator("main.screen > *").first()).toBeVisible();
    for (const tap of taps) await page.locator("main.screen").locator("button, summary").filter({ hasText: tap }).or(page.locator(`main.screen button[aria-label="${tap}"]`)).first().click();
    await page.screenshot({ path: test.info().outputPath(`${name}.png`), fullPage: true });
    await looksRight(page, name);
    await page.setViewportSize({ width: 320, height: 640 });
    expect(await cutOff(page), `${name}: cut off on 320 px`).toEqual([]);
    await page.evaluate(() => void (document.documentElement.dataset.theme = "bright"));
    await page.setViewportSize({ width: 390, height: 844 });
    await page.screenshot({ path: test.info().outputPath(`${name}, bright, in the hand.png`), fullPage: true });
    expect(odd).toEqual([]);
  });
}

/** What scrolls sideways within the page, but for tables, or reaches past its edge. @param {import("@playwright/test").Page} page */
function cutOff(page) {
  return page.evaluate(() => {
    const inside = [...document.querySelectorAll("main.screen, main.screen *")].filter((element) => !element.closest(".table-wrap, svg") && element.checkVisibility());
    const wide = inside.filter((element) => element.scrollWidth > element.clientWidth + 1 && getComputedStyle(element).overflowX !== "visible" && !element.matches("input, textarea, .unseen"));
    return wide.map((element) => `${element.tagName} ${element.className} ${element.scrollWidth} in ${element.clientWidth}`);
  });
}
