// Who rows, how the clip was taken, what the episode is called: `episode.toml`.

import { desk, edit, editSoon, flush } from "./api.js";
import { h } from "./dom.js";

const CONSENT = { yes: "Yes", no: "No", unknown: "Not asked yet" };
const LEVELS = { novice: "Novice", club: "Club", elite: "Elite" };
const set = (name, value) => edit("setting", { name, value });
const item = (name) => name.split(".")[1];

function text(name, label, value, hint = "") {
  return h("label", { class: "field" }, h("span", {}, label),
    h("input", {
      type: "text", value, "data-key": name, onblur: () => flush(name),
      oninput: ({ target }) => editSoon(name, "setting", { name, value: target.value }, name),
    }),
    hint && h("small", {}, hint));
}

function number(name, label, value, max, hint) {
  return h("label", { class: "field", "data-item": item(name) }, h("span", {}, label),
    h("input", {
      type: "number", min: 0, max, step: "any", value: value || "", placeholder: "not known",
      "data-key": name, onchange: ({ target }) => set(name, Number(target.value || 0)),
    }),
    h("small", {}, hint));
}

function choice(name, label, value, options, hint) {
  const one = ([key, words]) => h("label", { class: "check" },
    h("input", {
      type: "radio", name, value: key, checked: key === value, "data-key": `${name}:${key}`,
      onchange: () => set(name, key),
    }), words);
  return h("fieldset", { class: "field", "data-item": item(name) },
    h("legend", {}, label),
    h("div", { class: "fields" }, Object.entries(options).map(one)),
    h("small", {}, hint));
}

const under18 = (checked) => h("label", { class: "check field" },
  h("input", {
    type: "checkbox", checked, "data-key": "under18",
    onchange: ({ target }) => set("athlete.under_18", target.checked),
  }), "Under 18: a parent or guardian agrees too");

function speedHint() {
  const factor = desk.state.technique?.time_factor;
  if (!factor) return "Looks like slow motion: set it to get seconds and stroke rate.";
  const speed = factor === 1 ? "real speed" : `${(1 / factor).toFixed(2)} of real speed`;
  return `Clip time runs at ${speed}. Set it for slow motion.`;
}

export function athlete() {
  const { athlete: who, captured_fps: fps, title, series } = desk.state.settings;
  return [
    h("h2", {}, "Athlete"),
    text("athlete.alias", "Name to use", who.alias,
      "A first name or an alias; it appears in the summary."),
    choice("athlete.consent", "Agreed to be shown?", who.consent, CONSENT,
      "Without a yes the face is blurred; while not asked, the episode is marked a draft."),
    under18(who.under_18),
    number("athlete.height_cm", "Height (cm)", who.height_cm, 230, "For distances in centimetres."),
    choice("athlete.level", "Level", who.level, LEVELS, "Which reference ranges apply."),
    h("h2", {}, "Clip"),
    number("clip.captured_fps", "Captured at (frames a second)", fps, 2000, speedHint()),
    h("h2", {}, "Episode"),
    text("episode.title", "Title", title),
    text("episode.series", "Series", series),
  ];
}
