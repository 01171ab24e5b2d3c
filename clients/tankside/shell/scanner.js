// The camera as a reader of labels, for any screen: `<Scanner onFound=${(text) => …} />`.

import { useEffect, useRef, useState } from "preact/hooks";
import { html } from "../html.js";

/** @param {{onFound: (text: string) => void}} props */
export function Scanner({ onFound }) {
  const video = useRef(/** @type {HTMLVideoElement|null} */ (null));
  const [said, setSaid] = useState("Hold the label before the camera.");
  useEffect(() => {
    let stop = () => {};
    let left = false;
    const begin = async () => {
      const { scan } = await import("../device/scan.js");
      if (video.current) stop = await scan(video.current, onFound);
      if (left) stop();
    };
    begin().catch((error) => setSaid(error.message));
    return () => {
      left = true;
      stop();
    };
  }, []);
  return html`<figure class="scanner"><video ref=${video} muted playsinline aria-label="What the camera sees"></video><figcaption role="status">${said}</figcaption></figure>`;
}
