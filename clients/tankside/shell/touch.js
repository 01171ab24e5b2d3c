// How taps count here. A tap acts when the finger is lifted, which is what a click is; two touches
// at once (a wet hand, a sleeve) count as none; and after *wipe* the glass is dead for a while.

/** How long the glass is dead while it is wiped. */
export const WIPE_MS = 5_000;

/** Pointers that are down. @type {Set<number>} */
const down = new Set();
let several = false;
let touched_ms = -Infinity;

/** How long ago anybody touched the glass or a key. */
export const touchedAgo_ms = () => performance.now() - touched_ms;

for (const name of ["pointerdown", "pointerup", "keydown", "click", "input"]) {
  globalThis.addEventListener?.(name, () => void (touched_ms = performance.now()), { capture: true, passive: true });
}

/** @param {Event} event */
function swallow(event) {
  event.preventDefault();
  event.stopPropagation();
}

/** Watches the whole page. @param {() => void} touched called at every touch or key */
export function watchTouches(touched) {
  const began = (/** @type {PointerEvent} */ event) => {
    if (down.size === 0) several = false;
    down.add(event.pointerId);
    if (down.size > 1) several = true;
    touched();
  };
  const ended = (/** @type {PointerEvent} */ event) => down.delete(event.pointerId);
  addEventListener("pointerdown", began, { capture: true, passive: true });
  addEventListener("pointerup", ended, { capture: true, passive: true });
  addEventListener("pointercancel", ended, { capture: true, passive: true });
  addEventListener("keydown", touched, { capture: true, passive: true });
  addEventListener("click", (event) => several && swallow(event), { capture: true });
  addEventListener("contextmenu", (event) => event instanceof PointerEvent && event.pointerType === "touch" && swallow(event), { capture: true });
}
