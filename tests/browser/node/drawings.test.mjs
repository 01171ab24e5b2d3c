// Drawings: finite numbers, the finding in words, wrong input refused by name, contrast of the inks.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { BANDS } from "../../../clients/tankside/look/drawings/bands.js";
import { SHAPES, drawCase, numbersOf } from "../../../clients/tankside/look/drawings/case.js";
import { incidenceCurves, survivalCurve } from "../../../clients/tankside/look/drawings/curves.js";
import { hatchRibbon } from "../../../clients/tankside/look/drawings/hatch-ribbon.js";
import { lifeStrip } from "../../../clients/tankside/look/drawings/life-strip.js";
import { runs, waterLine } from "../../../clients/tankside/look/drawings/water-line.js";

const HOUR = 3_600_000;
const words = (/** @type {string} */ svg) => /<desc>(.*?)<\/desc>/.exec(svg)?.[1] ?? "";

/** @param {string} svg */
function holds(svg) {
  assert.ok(!/NaN|Infinity|undefined|null/.test(svg), svg);
  assert.ok(!/ style=|<style|<script|#[0-9a-f]{3,6}\b/.test(svg), "no style and no colour of its own: the policy of the page forbids the one, themes the other");
  assert.match(svg, /^<svg [^>]*(role="img" aria-label="[^"]+"|aria-hidden="true")/);
  assert.match(svg, /<title>[^<]+<\/title><desc>[^<]+<\/desc>/);
  const opened = svg.match(/<[a-z]+[^>]*[^/]>/g)?.length ?? 0;
  assert.equal(svg.match(/<\/[a-z]+>/g)?.length ?? 0, opened, "every element is closed");
}

test("a case of every shape and band is drawn, and says what it shows", () => {
  for (const shape of SHAPES) {
    for (const { band } of BANDS) holds(drawCase(numbersOf({ band, movement: "moving" }, shape)));
  }
  assert.equal(words(drawCase(numbersOf({ band: 4, movement: "still" }))), "yolk 70 %, embryo 0.7 case lengths, long gill threads, still");
  assert.equal(words(drawCase(numbersOf({ seen_into: false, findings: ["fouled"] }))), "could not see in, fouled");
  assert.equal(words(drawCase(numbersOf({ band: 1 }))), "yolk 100 %, no embryo seen");
  assert.equal(words(drawCase(numbersOf({ band: 0 }))), "no yolk, no embryo seen");
});

test("a measured yolk outweighs what the band usually shows; its area follows from its volume", () => {
  const radius = (/** @type {number} */ yolk) => Number(/class="yolk"[^>]* r="([\d.]+)"/.exec(drawCase({ yolk, body: 0 }))?.[1]);
  assert.equal(radius(1), 14);
  assert.equal(radius(0.125), 7);
  assert.match(words(drawCase(numbersOf({ band: 6, yolk_fraction: 0.4 }))), /^yolk 40 %/);
});

test("slits open are drawn, and said once", () => {
  const svg = drawCase(numbersOf({ band: 7, findings: ["slits open"] }, "horned"));
  assert.equal(svg.match(/class="slit"/g)?.length, 4);
  assert.equal(words(svg).match(/slits open/g)?.length, 1);
});

test("a case is not drawn from what is no number, or lies outside", () => {
  const wrong = [{ yolk: Number.NaN, body: 0 }, { yolk: 1.2, body: 0 }, { yolk: 1, body: -0.1 }, { yolk: 1, body: 2 }, { yolk: 1, body: 0, shape: "round" }, { yolk: 1, body: 0, gills: 2 }];
  for (const numbers of wrong) assert.throws(() => drawCase(numbers), RangeError, JSON.stringify(numbers));
  assert.throws(() => numbersOf({ band: 8 }), RangeError);
  // @ts-expect-error text where a number belongs
  assert.throws(() => drawCase({ yolk: "1", body: 0 }), /yolk must be a number; it is 1/);
});

test("the life strip has a frame a look, and tells the last one that was known", () => {
  const looks = [{ day: "1 Mar", proof: "checked", band: 1 }, { day: "8 Mar", proof: "put right", band: 2, movement: "moving" }, { day: "15 Mar", proof: "not yet known", band: 3 }];
  const svg = lifeStrip(looks, { title: "E-014", columns: 2 });
  holds(svg);
  assert.equal(svg.match(/class="shell"/g)?.length, 3);
  assert.equal(words(svg), "2 looks; the last on 8 Mar: yolk 96 %, embryo 0.2 case lengths, moving. 1 look not yet known.");
  assert.equal(words(lifeStrip([], { title: "E-015" })), "No look yet.");
  assert.throws(() => lifeStrip([{ day: "1 Mar", proof: "green" }], { title: "E" }), /proof must be one of/);
});

test("the ribbon's leaf reaches from the 5 % to the 95 % day; without a window the reason stands there", () => {
  const rows = [
    { label: "E-001", grade: "fitted", window: { p05: 5, p25: 8, p50: 10, p75: 12, p95: 17 } },
    { label: "E-002", grade: "house", window: { p05: -9, p25: -6, p50: -4, p75: -3, p95: -1 } },
    { label: "E-003", reason: "no readings" },
  ];
  for (const width of [320, 700]) {
    const svg = hatchRibbon(rows, { title: "Coming weeks", width });
    holds(svg);
    assert.equal(svg.match(/class="leaf( past)?"/g)?.length, 2);
    assert.match(svg, /not known: no readings/);
    assert.match(svg, /house days/);
  }
  assert.equal(words(hatchRibbon(rows, { title: "T" })), "2 eggs with a window; E-002 is next, between 9 days ago and 1 day ago, middle 4 days ago; past its window: E-002; 1 egg not known.");
  assert.throws(() => hatchRibbon([{ label: "E-004" }], { title: "T" }), /reason must be said/);
  assert.throws(() => hatchRibbon([{ label: "E-005", grade: "certain", window: /** @type {any} */ (rows[0]?.window) }], { title: "T" }), /grade/);
  assert.throws(() => hatchRibbon([{ label: "E-006", grade: "house", window: { p05: 5, p25: 4, p50: 6, p75: 7, p95: 8 } }], { title: "T" }), /must not go back/);
});

test("a gap in the readings stays a gap, and what lies outside the band is counted", () => {
  const points = [0, 6, 12, 40, 46].map((hour) => ({ t_ms: hour * HOUR, value: hour === 46 ? 28 : 24.5, hollow: hour === 12 }));
  const how = { title: "System A", unit: "°C", band: { low: 23, high: 27 }, gapHours: 12, dayWords: () => "Mon" };
  assert.deepEqual(runs(points, 12).map((run) => run.length), [3, 2]);
  const svg = waterLine(points, how);
  holds(svg);
  assert.equal(svg.match(/class="water"/g)?.length, 2);
  assert.equal(svg.match(/class="missing"/g)?.length, 1);
  assert.equal(words(svg), "5 readings, 24.5 to 28 °C, last 28 °C; 1 outside the band 23 to 27; 1 past calibration; 1 gap.");
  assert.equal(words(waterLine([], how)), "No reading.");
  assert.match(words(waterLine(points, { ...how, band: null })), /no band is set/);
  assert.throws(() => waterLine([...points].reverse(), how), /in order of time/);
  assert.throws(() => waterLine(points, { ...how, band: { low: 27, high: 23 } }), /low end/);
});

test("curves are steps with what is uncertain; their finding names the denominator's day", () => {
  const pieces = [{ from: 0, to: 10, survival: 1, lower: 1, upper: 1 }, { from: 10, to: 90, survival: 0.4, lower: 0.2, upper: 0.6 }];
  const svg = survivalCurve(pieces, { title: "Young", watched: [{ at: 0, count: 20 }, { at: 30, count: 8 }], censored: [20] });
  holds(svg);
  assert.equal(words(svg), "40 % (95 %: 20 % to 60 %) alive at day 90; half had died by day 10.");
  assert.match(words(survivalCurve([], { title: "Young" })), /Not estimable/);
  assert.throws(() => survivalCurve([{ from: 0, to: 1, survival: 1.1 }], { title: "T" }), /survival/);
  const curves = [{ name: "hatched", steps: [{ at: 80, value: 0.3 }, { at: 100, value: 0.5 }] }, { name: "lost", steps: [{ at: 20, value: 0.25 }] }];
  const stacked = incidenceCurves(curves, { title: "Fates", to: 120 });
  holds(stacked);
  assert.equal(words(stacked), "By day 120: hatched 50 %, lost 25 %; still incubating 25 %.");
  assert.throws(() => incidenceCurves([{ name: "x", steps: [{ at: 5, value: 0.5 }, { at: 6, value: 0.4 }] }], { title: "T", to: 9 }), /value/);
});

test("ink on ground is at least 7 to 1 in both themes, lines and shapes at least 3 to 1", () => {
  const css = readFileSync(new URL("../../../clients/tankside/look/tokens.css", import.meta.url), "utf8");
  const [dark = "", bright = ""] = css.split(':root[data-theme="bright"]');
  for (const theme of [dark, bright]) {
    const ink = (/** @type {string} */ name) => new RegExp(`--${name}: (#[0-9a-f]{6})`).exec(theme)?.[1] ?? assert.fail(name);
    for (const ground of ["ground", "raised"]) {
      for (const name of ["ink", "quiet", "mark", "sea", "alarm"]) assert.ok(contrast(ink(name), ink(ground)) >= 7, `${name} on ${ground}: ${contrast(ink(name), ink(ground))}`);
      for (const name of ["line", "wall"]) assert.ok(contrast(ink(name), ink(ground)) >= 3, `${name} on ${ground}: ${contrast(ink(name), ink(ground))}`);
    }
    for (const [front, back] of [["embryo", "shell"], ["eye", "embryo"]]) assert.ok(contrast(ink(/** @type {string} */ (front)), ink(/** @type {string} */ (back))) >= 3, `${front} on ${back}`);
  }
});

/** WCAG 2.2, relative luminance. @param {string} a @param {string} b */
function contrast(a, b) {
  const luminance = (/** @type {string} */ hex) => {
    const [r = 0, g = 0, bl = 0] = [1, 3, 5].map((from) => Number.parseInt(hex.slice(from, from + 2), 16) / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * bl;
  };
  const [light = 0, dark = 0] = [luminance(a), luminance(b)].sort((x, y) => y - x);
  return (light + 0.05) / (dark + 0.05);
}

test("names at the ends of curves stand apart and above the words of the axis", () => {
  const flat = (/** @type {string} */ name, /** @type {number} */ value) => ({ name, steps: [{ at: 0, value }] });
  const svg = incidenceCurves([flat("hatched", 0), flat("died", 0.01), flat("left", 0)], { title: "t", to: 60 });
  const ys = [...svg.matchAll(/<text x="[\d.]+" y="([\d.]+)" text-anchor="start" class="strong">/g)].map(([, y]) => Number(y)).sort((a, b) => a - b);
  assert.equal(ys.length, 3);
  assert.ok(ys.every((y, at) => at === 0 || y - (ys[at - 1] ?? 0) >= 15), String(ys));
  assert.ok(Math.max(...ys) <= 190, String(ys));
});

test("a long label has its room beside a leaf, and on narrow glass above it", () => {
  const rows = [{ label: "Quarantaene-Nord-Becken9", window: { p05: -3, p25: 1, p50: 4, p75: 8, p95: 20 }, grade: "fitted" }, { label: "E-1", reason: "no readings" }];
  const wide = hatchRibbon(rows, { title: "t", width: 700 });
  const [, x = "0"] = /<text x="([\d.]+)"[^>]*text-anchor="end"[^>]*>Quarantaene/.exec(wide) ?? [];
  assert.ok(Number(x) >= 24 * 7, x);
  const narrow = hatchRibbon(rows, { title: "t", width: 320 });
  const [, label = "0"] = /y="([\d.]+)"[^>]*>Quarantaene/.exec(narrow) ?? [];
  const [, leaf = "0"] = /class="leaf" d="M[\d.]+ ([\d.]+)/.exec(narrow) ?? [];
  assert.ok(Number(leaf) - Number(label) >= 16, `${label} above ${leaf}`);
});
