// Texts to paste, and the files that were made.

import { desk, edit, editSoon, flush } from "./api.js";
import { copy, h } from "./dom.js";

const TEXTS = { description: "Description", markdown: "Summary", post: "Post" };

function own(part) {
  const typed = (event) => editSoon(`text:${part}`, "summary", { part, text: event.target.value }, `text:${part}`);
  const value = desk.state.summary[part];
  return h("section", { class: "paste" },
    h("div", { class: "fields" }, h("h3", {}, TEXTS[part]), h("span", { class: "room" }),
      desk.state.own_texts[part] && h("button", { type: "button", class: "quiet", "data-key": `asmade:${part}`, onclick: () => edit("summary", { part, text: "" }) }, "As made"),
      h("button", { type: "button", class: "quiet", "data-key": `copy:${part}`, "aria-label": `Copy the ${TEXTS[part].toLowerCase()}`, onclick: (e) => { flush(`text:${part}`); copy(desk.state.summary[part] || e.target.closest("section").querySelector("textarea").value, e.target); } }, "Copy")),
    h("textarea", { rows: part === "post" ? 4 : 7, value, "aria-label": TEXTS[part], "data-key": `text:${part}`, placeholder: "Made with the episode; or write your own.", oninput: typed, onblur: () => flush(`text:${part}`) }));
}

const size = (bytes) => (bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`);
const at = (name) => `/out/${name.split("/").map(encodeURIComponent).join("/")}`;

async function copyFile(name, button) {
  copy(await (await fetch(at(name))).text(), button);
}

const file = (one) => h("li", { class: "row" },
  h("a", { class: "grow", href: at(one.name), target: "_blank", rel: "noopener" }, one.name),
  h("span", { class: "note" }, [one.what, size(one.size)].filter(Boolean).join(" · ")),
  one.copy && h("button", { type: "button", class: "quiet", "aria-label": `Copy ${one.name}`, onclick: (e) => copyFile(one.name, e.target) }, "Copy"),
  h("a", { class: "button quiet", href: `${at(one.name)}?download`, download: one.name.split("/").at(-1), "aria-label": `Download ${one.name}` }, "Save"));

export function finish() {
  const { outputs, stale } = desk.state;
  return [
    h("h2", {}, "Texts to paste"),
    Object.keys(TEXTS).map(own),
    h("h2", {}, "Files"),
    stale && outputs.length > 0 && h("p", { class: "note odd" }, "Made before your last edits: make the episode again."),
    outputs.length ? h("ul", { class: "rows files" }, outputs.map(file))
      : h("p", { class: "note" }, "Nothing is made yet. Press “Make episode”."),
    desk.make.notes?.length > 0 && h("details", {}, h("summary", {}, "What the last make noted"), h("ul", {}, desk.make.notes.map((n) => h("li", {}, n)))),
  ];
}
