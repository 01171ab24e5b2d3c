// A stylesheet of one screen's own, fetched with the screen: nobody needs it to start.

/** @param {string} url @returns {Promise<void>} done too where it cannot be had: words are read without it */
export function stylesheet(url) {
  const link = Object.assign(document.createElement("link"), { rel: "stylesheet", href: url });
  return new Promise((done) => {
    link.onload = link.onerror = () => done();
    document.head.append(link);
  });
}
