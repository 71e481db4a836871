// Small helpers around the DOM. No text ever goes in as HTML.

/** Element `tag` with `props` (on* = listener, rest = attribute or property) and children. */
export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "value" || key === "checked" || key === "className") element[key] = value;
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false));
  return element;
}

export const $ = (id) => document.getElementById(id);

/** Replace the children, keeping the focus on the element with the same `data-key`. */
export function fill(parent, ...children) {
  const held = parent.contains(document.activeElement) ? document.activeElement : null;
  const key = held?.dataset.key;
  const where = held && "selectionStart" in held ? [held.selectionStart, held.selectionEnd] : null;
  const scroll = parent.scrollTop;
  parent.replaceChildren(...children.flat(Infinity).filter(Boolean));
  parent.scrollTop = scroll;
  if (!key) return;
  const again = parent.querySelector(`[data-key="${CSS.escape(key)}"]`);
  again?.focus({ preventScroll: true });
  try {
    if (again && where && where[0] !== null) again.setSelectionRange(...where);
  } catch { /* number fields have no selection */ }
}

/** m:ss.t of seconds. */
export function clock(seconds, digits = 1) {
  if (seconds === null || seconds === undefined || Number.isNaN(seconds)) return "–";
  const unit = 10 ** digits;
  const whole = Math.floor(seconds * unit + 1e-6);
  const rest = (whole % (60 * unit)) / unit;
  return `${Math.floor(whole / (60 * unit))}:${rest.toFixed(digits).padStart(digits ? 3 + digits : 2, "0")}`;
}

/** Seconds of "m:ss.t" or "s"; NaN for anything else. */
export function unclock(text) {
  const parts = text.trim().split(":").map((p) => (p.trim() === "" ? NaN : Number(p)));
  return parts.length > 3 ? NaN : parts.reduce((sum, part) => sum * 60 + part, 0);
}

/** Index of the last element <= value in a rising array; -1 before the first. */
export function lastAtMost(array, value) {
  let low = 0;
  let high = array.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (array[middle] <= value) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** A typed array from base64 of little-endian numbers. */
export function unpack(text, Kind) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  return new Kind(bytes.buffer);
}

/** Put text on the clipboard, and say so in the button for a moment. */
export async function copy(text, button) {
  try {
    await navigator.clipboard.writeText(text);
  } catch {
    const area = h("textarea", { class: "offscreen", value: text, "aria-hidden": "true" });
    document.body.append(area);
    area.select();
    document.execCommand("copy");
    area.remove();
  }
  const label = button.textContent;
  button.textContent = "Copied";
  setTimeout(() => { button.textContent = label; }, 1400);
}

const small = (kind) => (text, onclick, props = {}) => (
  h("button", { type: "button", class: kind, onclick, ...props }, text));

/** A small framed button; `props` carry its key and, where the text says too little, its name. */
export const quiet = small("quiet");

/** A button that reads as a link: it goes somewhere. */
export const link = small("link");

/** Words for a screen reader only. */
export const unseen = (text) => h("span", { class: "unseen" }, text);

export const note = (...text) => h("p", { class: "note" }, text);
