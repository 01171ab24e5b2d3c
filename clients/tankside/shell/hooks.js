// What screens use of Preact and the nursery: rendering again when something changed, and readings.

import { useEffect, useState } from "preact/hooks";

/** @import { Nursery, Reading } from "../contracts.js" */

/** After how long a reading that failed is asked for again. */
const ASK_AGAIN_MS = 5_000;
/** The status of an answer that is refused for now (RFC 6585, section 4). */
const TOO_MANY = 429;

/**
 * Renders again after any change of the nursery; answers the nursery itself.
 * @template {Nursery} T
 * @param {T} nursery
 */
export function useNursery(nursery) {
  const [, again] = useState(0);
  const drawn = nursery.changes;
  useEffect(() => {
    const draw = () => again((count) => count + 1);
    // What changed between the drawing and now was told to nobody here.
    if (nursery.changes !== drawn) draw();
    return nursery.subscribe(draw);
  }, [nursery]);
  return nursery;
}

/** Whether asking again brings the same. @param {number|undefined} status */
const isForGood = (status) => status !== undefined && status >= 400 && status < 500 && status !== TOO_MANY;

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
    /** @type {ReturnType<typeof setTimeout>|undefined} */
    let again;
    const ask = async () => {
      clearTimeout(again);
      const error = await nursery.read(path).then(() => null, (trouble) => trouble);
      if (left) return;
      setTrouble(error?.message ?? null);
      // A service that was busy answers a moment later, though the log may stand still.
      if (error && !isForGood(error.status)) again = setTimeout(ask, ASK_AGAIN_MS);
    };
    ask();
    const stop = nursery.onGrown(ask);
    return () => {
      left = true;
      clearTimeout(again);
      stop();
    };
  }, [nursery, path]);
  return { reading: path === null ? null : nursery.reading(path), trouble };
}
