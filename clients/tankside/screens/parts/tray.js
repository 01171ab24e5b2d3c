// A tray in its true order: places with the cases in them, then cases without a place. Pure.

import { isOpen } from "./open.js";

/**
 * @typedef {object} Cell
 * @property {string} key
 * @property {string} label of the place; "" where none is set up
 * @property {string} row
 * @property {string|null} place
 * @property {any|null} egg
 */

/** @param {any} tank @param {any[]} eggs @returns {Cell[]} */
export function cellsOf(tank, eggs) {
  const here = eggs.filter((egg) => isOpen(egg) && egg.place?.tank === tank.id);
  const placed = new Set();
  const cells = (tank.places ?? []).toSorted((/** @type {any} */ a, /** @type {any} */ b) => a.order - b.order).flatMap((/** @type {any} */ place) => {
    const within = here.filter((egg) => (egg.placeId ? egg.placeId === place.id : place.eggs.includes(egg.id)));
    within.forEach((egg) => placed.add(egg.id));
    const row = place.row ?? "";
    return within.length === 0 ? [{ key: place.id, label: place.label, row, place: place.id, egg: null }] : within.map((egg) => ({ key: egg.id, label: place.label, row, place: place.id, egg }));
  });
  const loose = here.filter((egg) => !placed.has(egg.id)).toSorted(byLabel);
  return [...cells, ...loose.map((egg) => ({ key: egg.id, label: egg.place?.note ?? "", row: "", place: null, egg }))];
}

/** @param {any} a @param {any} b */
const byLabel = (a, b) => a.label.localeCompare(b.label, "en", { numeric: true });

/**
 * The open round of a tray: of this device's notes, else as the service knows it.
 * @param {import("../../contracts.js").LocalNote[]} notes @param {any[]} rounds @param {string} tank @param {string} what
 */
export function openRound(notes, rounds, tank, what) {
  const ended = new Set(notes.filter(({ type, state }) => type === "round.closed.v1" && state !== "refused").map(({ subject }) => subject));
  const mine = notes.findLast((note) => note.type === "round.opened.v1" && note.state !== "refused" && note.data.what === what && concerns(note.data, tank) && !ended.has(note.subject));
  // Also of a round that was begun here the service knows what other devices looked at.
  const told = rounds.find(({ id }) => id === mine?.subject);
  if (mine && !told?.closed) return { id: mine.subject, label: mine.data.label, eggs: mine.data.eggs ?? [], lookedAt: /** @type {string[]} */ (told?.looked_at ?? []) };
  const known = rounds.find((round) => !round.closed && round.what === what && concerns(round, tank) && !ended.has(round.id));
  return known ? { id: known.id, label: known.label, eggs: known.eggs ?? [], lookedAt: known.looked_at ?? [] } : null;
}

/** @param {{tanks?: string[]}} round @param {string} tank */
const concerns = ({ tanks }, tank) => tank === "" || (tanks ?? []).includes(tank);

/**
 * What was looked at in a round: as the service knows it, and by this device's notes.
 * @param {{id: string, lookedAt: string[]}|null} round @param {import("../../contracts.js").LocalNote[]} notes @param {string} type
 */
export function lookedAt(round, notes, type) {
  if (!round) return new Set();
  const here = notes.filter((note) => note.type === type && note.correlation === round.id && note.state !== "refused");
  return new Set([...round.lookedAt, ...here.map(({ subject }) => subject)]);
}
