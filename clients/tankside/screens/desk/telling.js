// Notes in sentences, from their kind and members. Pure.

/** @type {Record<string, string>} */
const SPECIAL = {
  "egg.candled.v1": "Candled", "egg.collected.v1": "Found", "egg.received.v1": "Received", "egg.moved.v1": "Moved", "egg.held_apart.v1": "Held apart", "egg.lost.v1": "Lost",
  "egg.hatched.v1": "Hatched", "egg.opened.v1": "Opened", "egg.tended.v1": "Tended", "egg.examined.v1": "Examined", "opening.left.v1": "Left to hatch", "opening.authorised.v1": "Opening decided",
  "animal.fed.v1": "Offered food", "animal.measured.v1": "Measured", "animal.moved.v1": "Moved", "animal.died.v1": "Died", "animal.identified.v1": "Marked or told apart", "animal.introduced.v1": "Put together with others",
  "tank.checked.v1": "Walked past", "tank.searched.v1": "Tank searched", "tank.fed.v1": "Tank fed", "water.measured.v1": "Water read", "round.opened.v1": "Round begun", "round.closed.v1": "Round closed",
};

/** @param {string} kind */
export function tellNote(kind) {
  const [noun = "", rest = ""] = kind.replace(/\.v\d+$/, "").split(".");
  return SPECIAL[kind] ?? `${noun} ${rest.replaceAll("_", " ")}`.replace(/^./, (letter) => letter.toUpperCase());
}

/**
 * Members as words: plain values, lists by comma, things by their labels, else by the end of their ids.
 * Hashes are shown by how they begin.
 * @param {Record<string, any>} data @param {(id: string) => string|undefined} [labelled] the label of a thing, where it is known
 * @returns {string}
 */
export function memberWords(data, labelled = () => undefined) {
  return Object.entries(data ?? {}).filter(([, value]) => value !== undefined && !(Array.isArray(value) && value.length === 0)).map(([name, value]) => `${name.replaceAll("_", " ")}: ${valueWords(value, labelled)}`).join(" · ");
}

/** @param {any} value @param {(id: string) => string|undefined} labelled @returns {string} */
function valueWords(value, labelled) {
  if (Array.isArray(value)) return value.map((one) => valueWords(one, labelled)).join(", ");
  if (value && typeof value === "object") return Object.entries(value).map(([name, one]) => `${name.replaceAll("_", " ")} ${valueWords(one, labelled)}`).join(" ");
  if (typeof value === "string" && /^[a-z]+\/[0-9A-HJKMNP-TV-Z]{26}$/.test(value)) return labelled(value) ?? `${value.split("/")[0]} …${value.slice(-5)}`;
  if (typeof value === "string" && /^[0-9a-f]{64}$/.test(value)) return `${value.slice(0, 8)}…`;
  return value === true ? "yes" : value === false ? "no" : String(value);
}
