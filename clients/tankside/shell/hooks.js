// What screens use of Preact and the nursery: rendering again when something changed, and readings.

import { useEffect, useState } from "preact/hooks";

/** @import { Nursery, Reading } from "../contracts.js" */

/**
 * Renders again after any change of the nursery; answers the nursery itself.
 * @template {Nursery} T
 * @param {T} nursery
 */
export function useNursery(nursery) {
  const [, again] = useState(0);
  useEffect(() => nursery.subscribe(() => again((count) => count + 1)), [nursery]);
  return nursery;
}

/**
 * The newest answer to `path` that this device has; asks the service once and again whenever the
 * log has grown. `null` until there is any.
 * @param {Nursery} nursery
 * @param {string|null} path null: nothing is asked
 * @returns {{reading: Reading|null, trouble: string|null}} trouble: why there is none, or none newer
 */
export function useReading(nursery, path) {
  useNursery(nursery);
  const [trouble, setTrouble] = useState(/** @type {string|null} */ (null));
  useEffect(() => {
    if (path === null) return undefined;
    let left = false;
    const ask = () => nursery.read(path).then(() => !left && setTrouble(null)).catch((error) => !left && setTrouble(error.message));
    ask();
    const stop = nursery.onGrown(ask);
    return () => {
      left = true;
      stop();
    };
  }, [nursery, path]);
  return { reading: path === null ? null : nursery.reading(path), trouble };
}
