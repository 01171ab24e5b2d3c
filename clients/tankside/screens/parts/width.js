// How wide the page is, for drawings whose letters keep their size.

import { useEffect, useState } from "preact/hooks";

const LEAST = 260;

/** @param {number} most @param {number} [beside] pixels that are not the drawing's */
export function useWidth(most, beside = 24) {
  const measure = () => Math.max(LEAST, Math.min(most, document.documentElement.clientWidth - beside));
  const [width, setWidth] = useState(measure);
  useEffect(() => {
    const again = () => setWidth(measure());
    addEventListener("resize", again);
    return () => removeEventListener("resize", again);
  }, []);
  return width;
}
