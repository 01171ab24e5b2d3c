// Which screen a hash names: `#/tray/tank/01JD…` is matched against `/tray/:noun/:id`.

/**
 * @template {{path: string}} T
 * @param {T[]} screens @param {string} hash
 * @returns {{screen: T, params: Record<string, string>}|null}
 */
export function match(screens, hash) {
  const parts = pathOf(hash).split("/");
  for (const screen of screens) {
    const wanted = screen.path.split("/");
    if (wanted.length !== parts.length) continue;
    if (!wanted.every((part, at) => part.startsWith(":") ? parts[at] !== "" : part === parts[at])) continue;
    const named = wanted.flatMap((part, at) => (part.startsWith(":") ? [[part.slice(1), decode(parts[at] ?? "")]] : []));
    return { screen, params: Object.fromEntries(named) };
  }
  return null;
}

/** The path in a hash; what stands behind a question mark is the screen's own. @param {string} hash */
export const pathOf = (hash) => hash.replace(/^#/, "").split("?")[0] || "/";

/** @param {string} part */
function decode(part) {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}
