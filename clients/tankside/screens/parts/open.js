// Whether a case still incubates, and whether an animal is here. Pure.

/** @param {any} egg */
export const isOpen = (egg) => egg.fate?.state === "open";

/** @param {any} animal */
export const isHere = (animal) => animal.fate?.state === "present";
