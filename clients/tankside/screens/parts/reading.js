// What screens read: lists of the service with this device's notes laid over them, and the names by
// which people know things.

import { useMemo } from "preact/hooks";
import { useReading } from "../../shell/hooks.js";
import { animalsWith, eggsWith, unknownTo } from "./laid-over.js";

/** @import { Nursery } from "../../contracts.js" */

/** The most that one page of an answer holds. */
const ALL = "limit=1000";

/**
 * @typedef {object} Read
 * @property {any[]} items
 * @property {import("../../contracts.js").Reading|null} reading
 * @property {string|null} trouble
 */

/** @param {Nursery} nursery @param {string} path without a limit @returns {Read} */
export function useItems(nursery, path) {
  const asked = `${path}${path.includes("?") ? "&" : "?"}${ALL}`;
  const { reading, trouble } = useReading(nursery, asked);
  return { items: reading?.body?.items ?? [], reading, trouble };
}

/** Whether all that can be known here is there: read, or asked for and refused, or out of reach. @param {...Read} reads */
export const isKnown = (...reads) => reads.every(({ reading, trouble }) => reading !== null || trouble !== null);

/** Cases, with what was noted here since. @param {Nursery} nursery @returns {Read} */
export function useEggs(nursery) {
  const read = useItems(nursery, "/v1/eggs");
  const known = read.reading?.body?.known_at ?? 0;
  const items = useMemo(() => eggsWith(read.items, unknownTo(nursery.notes, known)), [read.items, nursery.notes, known]);
  return { ...read, items };
}

/** @param {Nursery} nursery @returns {Read} */
export function useAnimals(nursery) {
  const read = useItems(nursery, "/v1/animals");
  const known = read.reading?.body?.known_at ?? 0;
  const items = useMemo(() => animalsWith(read.items, unknownTo(nursery.notes, known)), [read.items, nursery.notes, known]);
  return { ...read, items };
}

/** @param {Nursery} nursery @returns {Read} */
export const useTanks = (nursery) => useItems(nursery, "/v1/tanks");

/** Who is behind the pseudonyms. @param {Nursery} nursery @returns {Read} */
export function usePeople(nursery) {
  const { reading, trouble } = useReading(nursery, "/v1/people");
  return { items: reading?.body?.items ?? [], reading, trouble };
}

/** What a person is called: in the house's list, else on this device. @param {Nursery} nursery @param {any[]} people @param {string|undefined} id */
export const nameOf = (nursery, people, id) => people.find(({ person }) => person === id)?.name ?? nursery.people.find(({ person }) => person === id)?.name ?? lastOf(id);

/** Who may have kept a round, or take one over: those who look after animals. @param {any[]} people */
export const carers = (people) => people.filter(({ roles }) => roles.some((/** @type {string} */ role) => ["keeper", "trainee", "curator", "veterinarian"].includes(role)));

/** Why something is not known, for people. @param {string|null} trouble */
export function whyNot(trouble) {
  if (trouble === null) return "the service has not said yet";
  return trouble.includes("nothing at this path") ? "this service does not answer that yet" : trouble;
}

/** Tanks in use, in the order of their labels. @param {any[]} tanks */
export const inUse = (tanks) => tanks.filter(({ retired }) => !retired).toSorted((a, b) => byLabel(a, b));

/** @param {{label?: string, id: string}} a @param {{label?: string, id: string}} b */
export const byLabel = (a, b) => (a.label ?? "").localeCompare(b.label ?? "", "en", { numeric: true }) || (a.id < b.id ? -1 : 1);

/** The shape of a species' cases. @param {any[]} species @param {string|undefined} id @returns {string|undefined} */
export const shapeOf = (species, id) => species.find((one) => one.id === id)?.case_shape;

/** @param {any[]} items @param {string|undefined} id */
export const labelOf = (items, id) => items.find((one) => one.id === id)?.label || lastOf(id);

/** The end of an id, where nothing has a label. @param {string|undefined} id */
export const lastOf = (id) => (id ? `…${id.slice(-5)}` : "—");

/** @param {Nursery} nursery */
export const zoneOf = (nursery) => nursery.house?.timeZone ?? "UTC";
