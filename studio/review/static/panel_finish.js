// Texts to paste, and the files that were made.

import { desk, edit, editSoon, flush } from "./api.js";
import { copy, h, note, quiet } from "./dom.js";

const TEXTS = { description: "Description", markdown: "Summary", post: "Post" };

function text(part) {
  const pending = `text:${part}`;
  const name = TEXTS[part];
  const area = h("textarea", {
    rows: part === "post" ? 4 : 7, value: desk.state.summary[part], "aria-label": name,
    "data-key": pending, placeholder: "Made with the episode; or write your own.",
    oninput: () => editSoon(pending, "summary", { part, text: area.value }, pending),
    onblur: () => flush(pending),
  });
  return h("section", { class: "paste" },
    h("div", { class: "fields" },
      h("h3", {}, name), h("span", { class: "room" }),
      desk.state.own_texts[part] && quiet("As made", () => edit("summary", { part, text: "" }),
        { "data-key": `asmade:${part}` }),
      quiet("Copy", ({ target }) => copy(area.value, target),
        { "data-key": `copy:${part}`, "aria-label": `Copy the ${name.toLowerCase()}` })),
    area);
}

function size(bytes) {
  if (bytes >= 1e6) return `${(bytes / 1e6).toFixed(1)} MB`;
  return `${Math.max(1, Math.round(bytes / 1e3))} kB`;
}

const at = (name) => `/out/${name.split("/").map(encodeURIComponent).join("/")}`;

async function copyFile(name, button) {
  const answer = await fetch(at(name));
  if (answer.ok) copy(await answer.text(), button);
}

const file = (one) => h("li", { class: "row" },
  h("a", { class: "grow", href: at(one.name), target: "_blank", rel: "noopener" }, one.name),
  h("span", { class: "note" }, [one.what, size(one.size)].filter(Boolean).join(" · ")),
  one.copy && quiet("Copy", ({ target }) => copyFile(one.name, target),
    { "aria-label": `Copy ${one.name}` }),
  h("a", {
    class: "button quiet", href: `${at(one.name)}?download`, download: one.name.split("/").at(-1),
    "aria-label": `Download ${one.name}`,
  }, "Save"));

function notes() {
  const told = desk.make.notes ?? [];
  return told.length > 0 && h("details", {},
    h("summary", {}, "What the last make noted"),
    h("ul", {}, told.map((n) => h("li", {}, n))));
}

export function finish() {
  const { outputs, stale } = desk.state;
  return [
    h("h2", {}, "Texts to paste"),
    Object.keys(TEXTS).map(text),
    h("h2", {}, "Files"),
    stale && outputs.length > 0
      && h("p", { class: "note odd" }, "Made before your last edits: make the episode again."),
    outputs.length ? h("ul", { class: "rows files" }, outputs.map(file))
      : note("Nothing is made yet. Press “Make episode”."),
    notes(),
  ];
}
