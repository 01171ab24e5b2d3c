// What a decision about an opening carries of the record's assessment. Pure.

/** The most cases that a note names; the rest are in the whole answer. */
const CASES_MAX = 128;

/**
 * Short enough for a note: what was met, what not, what spoke against it, and which cases stood alike.
 * @param {{as_of: string, known_at: number, item: any}} body @param {string} answer_sha256
 */
export function assessmentOf({ as_of, known_at, item }, answer_sha256) {
  const of = (/** @type {any[]} */ weighed, /** @type {string} */ held) => weighed.filter(({ holds }) => holds === held).map(({ what }) => what);
  const lists = { criteria_met: of(item.criteria, "yes"), criteria_not_met: of(item.criteria, "no"), criteria_not_known: of(item.criteria, "not known"), reasons_against: of(item.against, "yes") };
  const named = Object.fromEntries(Object.entries(lists).filter(([, list]) => list.length > 0));
  return { as_of, known_at_size: known_at, answer_sha256, standing: item.window.standing, ...named, met_by: item.met_by.slice(0, CASES_MAX), met_by_cases: item.met_by.length };
}
