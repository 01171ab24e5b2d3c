// A history at two clocks, from the one answer that holds it all: what had happened by a time, and what
// the log knew at a size. Pure, so that the sliders need no network.

/**
 * @typedef {object} Clocks
 * @property {number} time_ms happened by
 * @property {number} size known: notes with a smaller seq
 */

/**
 * A note as it stood then.
 * @typedef {object} Seen
 * @property {any} note as the service tells it now
 * @property {boolean} known whether the log held it then
 * @property {string} standing as it stood then
 * @property {Record<string, any>} data as it stood then
 * @property {any[]} acts on it that were known then
 */

/**
 * Notes that had happened by then, in the order of becoming known.
 * @param {any[]} notes @param {Clocks} clocks @returns {Seen[]}
 */
export function viewAt(notes, { time_ms, size }) {
  const seen = notes.filter((note) => Date.parse(timeThen(note, size)) <= time_ms).map((note) => seenAt(note, size));
  return seen.sort((a, b) => a.note.seq - b.note.seq);
}

/** Acts known at a size. @param {any} note @param {number} size */
const actsAt = (note, size) => (note.acts_told ?? []).filter((/** @type {any} */ act) => act.seq < size);

/** A note's time as it stood at a size. @param {any} note @param {number} size */
const timeThen = (note, size) => (note.as_written && actsAt(note, size).length === 0 ? note.as_written.time : note.time);

/** @param {any} note @param {number} size @returns {Seen} */
function seenAt(note, size) {
  const acts = actsAt(note, size);
  const all = (note.acts_told ?? []).length;
  // Some acts known and others not: how it stood between them is the service's to say; what was
  // first written is shown, with the acts that were known.
  const asNow = acts.length === all;
  const written = note.as_written ?? note;
  return { note, known: note.seq < size, standing: asNow ? note.standing : acts.length === 0 ? "stands" : "put right", data: asNow ? note.data : written.data, acts };
}

/** How a frame of the life strip is marked. @param {Seen} seen */
export function proofOf({ known, standing }) {
  if (!known) return "not yet known";
  return standing === "put right" || standing === "taken back" ? standing : "recorded";
}

/** The view as a file: what it shows, at which clocks, and what it rests on. @param {any} body @param {Clocks} clocks @param {string} label */
export function takenAway(body, clocks, label) {
  const notes = viewAt(body.notes ?? [], clocks).map(({ note, known, standing, data, acts }) => ({ seq: note.seq, id: note.id, kind: note.kind, time: note.time, recorded_at: note.recorded_at, by: note.by, known, standing, data, acts }));
  return {
    about: "A history as known at a moment. It can be made again from the record at the same two clocks.",
    subject: body.item_id, label,
    happened_by: new Date(clocks.time_ms).toISOString(), known_at: clocks.size,
    read_at: { as_of: body.as_of, known_at: body.known_at, root: body.root },
    again: `GET /v1/${String(body.item_id).replace("/", "s/")}/history?as_of=${new Date(clocks.time_ms).toISOString()}&known_at=${clocks.size}`,
    notes,
  };
}
