// What a tap means does not change under the finger. Answers come when they come: one that arrives
// while somebody reaches for a button may change what the button would sign. What changed by itself
// is deaf for a moment, and a tap within it counts as none.

import { useRef } from "preact/hooks";
import { touchedAgo_ms } from "../../shell/touch.js";

/** How long it takes to see that words are others than they were (our own choice). */
const READ_MS = 700;
/** A change so soon after a touch or a key is the person's own doing. */
const OWN_MS = 400;
/** What is said of a tap that came too soon. */
export const CHANGED = "This changed by itself just now: read it once more, then tap.";

/**
 * Answers a question: has what this would sign stood long enough to be read? What comes where
 * nothing stood is as good as read, for nobody reaches for what is not there.
 * Whoever knows that what comes next is the person's own doing says so with `mine`: on a slow machine it
 * may be drawn later than a touch is remembered.
 * @param {string} meaning "" while there is nothing to tap
 * @returns {(() => boolean) & {mine: () => void}}
 */
export function useSteady(meaning) {
  const held = useRef({ meaning, changed_ms: -READ_MS, mine: false });
  const before = held.current;
  const byItself = before.meaning !== meaning && before.meaning !== "" && meaning !== "" && !before.mine && touchedAgo_ms() > OWN_MS;
  held.current = { meaning, changed_ms: byItself ? performance.now() : before.changed_ms, mine: false };
  return Object.assign(() => performance.now() - held.current.changed_ms >= READ_MS, { mine: () => void (held.current.mine = true) });
}

/** What notes say, without the moment and the ids that are new each time. @param {import("../notes/note.js").Draft[]} notes */
export const meaningOf = (notes) => (notes.length === 0 ? "" : JSON.stringify(notes.map(({ type, data, saying }) => [type, data, saying.subject, saying.says])));
