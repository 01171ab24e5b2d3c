// Hears that the log has grown (`GET /v1/events/live`). The browser's own EventSource can show no
// token, so the stream is read here; the form is that of the HTML standard, 9.2.6.

import { ask } from "./service.js";

/** @import { Reader } from "./service.js" */

/** What a stream told. @typedef {{id: string, event: string, data: string}} Told */

/**
 * Takes whole events out of text; answers them and what is left.
 * @param {string} text
 * @returns {{told: Told[], rest: string}}
 */
export function cut(text) {
  const blocks = text.replaceAll("\r\n", "\n").split("\n\n");
  const rest = blocks.pop() ?? "";
  const told = blocks.map((block) => {
    const fields = { id: "", event: "", data: "" };
    for (const line of block.split("\n")) {
      const [, name, value] = /^(id|event|data): ?(.*)$/.exec(line) ?? [];
      if (name !== undefined && value !== undefined) fields[/** @type {keyof Told} */ (name)] += value;
    }
    return fields;
  });
  return { told: told.filter(({ data }) => data !== ""), rest };
}

/**
 * Listens until the stream ends; `hear` gets the seq of the newest note.
 * @param {Reader|null} reader @param {number|null} known the newest seq known @param {(seq: number) => void} hear
 * @param {AbortSignal} signal
 */
export async function listen(reader, known, hear, signal) {
  const headers = new Headers({ accept: "text/event-stream" });
  if (known !== null) headers.set("last-event-id", String(known));
  const response = await ask("/v1/events/live", { headers, signal }, reader);
  const stream = response.body?.pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (let chunk = await stream?.read(); chunk && !chunk.done; chunk = await stream?.read()) {
    const { told, rest } = cut(text + chunk.value);
    text = rest;
    for (const { event, data } of told) if (event === "grown") hear(Number(JSON.parse(data).seq));
  }
}
