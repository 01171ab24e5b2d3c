// Sheets that were printed from this device: whoever types one in need not copy its foot.

import { ms } from "./days.js";
import { sheetPath } from "./paper.js";

/** @import { Nursery } from "../../contracts.js" */
/** @import { Printed } from "./paper.js" */

/** As many of one tray as are remembered. */
const PRINTED_MAX = 5;

/** @param {string} tank */
const formOf = (tank) => `printed ${tank}`;

/** The newest first. @param {Nursery} nursery @param {string} tank @returns {Printed[]} */
export const printedOf = (nursery, tank) => nursery.form(formOf(tank))?.values.sheets ?? [];

/** @param {Nursery} nursery @param {Printed|null|undefined} made none without a hash */
export function keepPrinted(nursery, made) {
  if (!made?.item.page_hash) return;
  const { item, known_at, as_of } = made;
  const others = printedOf(nursery, item.tank).filter((one) => one.item.page_hash !== item.page_hash);
  nursery.keepForm(formOf(item.tank), "sheets", [made, ...others].slice(0, PRINTED_MAX));
  // So that it can be compared off line by others at this device too, who copy its foot.
  nursery.read(sheetPath({ tank: item.tank, size: known_at, printed_ms: ms(as_of) }, true)).catch(() => {});
}
