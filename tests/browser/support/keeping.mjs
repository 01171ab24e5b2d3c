// A nursery that a keeper has begun to keep: what journeys through the screens start from.

import { enrol, expect, nurseryOf } from "./pages.mjs";

/** @import { Page } from "@playwright/test" */
/** @import { House } from "./house.mjs" */

/** As many cases as a round has. */
export const CASES = 60;

/**
 * Notes of the house, made on the page's own device and recorded before one goes on.
 * @param {Page} page @param {{type: string, subject: string, data: Record<string, any>, time?: string, late?: string}[]} notes
 */
export async function noted(page, notes) {
  const nursery = await nurseryOf(page);
  await nursery.evaluate(async (it, all) => {
    for (const { type, subject, data, time, late } of all) await it.act(type, data, { subject, says: type, time, late, atOnce: true });
    await it.settle();
  }, notes);
  await expect.poll(() => nursery.evaluate(({ outbox }) => outbox), { timeout: 60_000 }).toMatchObject({ pending: 0, waiting: 0, refused: 0 });
}

/** @param {Page} page @param {string} noun @param {number} count @returns {Promise<string[]>} */
export const subjects = async (page, noun, count) => (await nurseryOf(page)).evaluate((it, [kind, many]) => Array.from({ length: Number(many) }, () => it.newSubject(String(kind))), [noun, count]);

/** Adults, and a tray of cases, by a keeper whose key is on the page's device. @param {Page} page @param {House} house */
export async function furnished(page, house) {
  const rooms = await house.furnish();
  await enrol(page, house, "Ana");
  const eggs = await subjects(page, "egg", CASES);
  const adults = await subjects(page, "animal", 3);
  const sexes = ["female", "female", "male"];
  await noted(page, [
    ...adults.map((subject, at) => ({ type: "animal.received.v1", subject, data: { label: `A-${at + 1}`, species: rooms.species, sex: sexes[at], from: "elsewhere", state: "alive", origin: "bred in care", tank: rooms.adults } })),
    ...eggs.map((subject, at) => ({ type: "egg.collected.v1", subject, data: { label: `E-${String(at + 1).padStart(3, "0")}`, species: rooms.species, from_tank: rooms.adults, laid: "single", case: "whole", yolk: "seen", to_tank: rooms.trays } })),
  ]);
  return { ...rooms, eggs, animals: adults };
}
