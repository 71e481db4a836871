// Who rows, how the clip was taken, what the episode is called: `episode.toml`.

import { desk, edit, editSoon, flush } from "./api.js";
import { h } from "./dom.js";

function text(name, label, value, hint = "") {
  return h("label", { class: "field" }, h("span", {}, label),
    h("input", { type: "text", value, "data-key": name, oninput: (e) => editSoon(name, "setting", { name, value: e.target.value }, name), onblur: () => flush(name) }),
    hint && h("small", {}, hint));
}

function number(name, label, value, unit, hint, most) {
  return h("label", { class: "field", "data-item": name.split(".")[1] }, h("span", {}, `${label} (${unit})`),
    h("input", { type: "number", min: 0, max: most, step: "any", value: value || "", placeholder: "not known", "data-key": name, onchange: (e) => edit("setting", { name, value: Number(e.target.value || 0) }) }),
    hint && h("small", {}, hint));
}

function choice(name, label, value, options, hint = "") {
  return h("fieldset", { class: "field", "data-item": name.split(".")[1] }, h("legend", {}, label),
    h("div", { class: "fields" }, Object.entries(options).map(([key, words]) => h("label", { class: "check" },
      h("input", { type: "radio", name, value: key, checked: key === value, "data-key": `${name}:${key}`, onchange: () => edit("setting", { name, value: key }) }), words))),
    hint && h("small", {}, hint));
}

export function athlete() {
  const { athlete: who, captured_fps: fps, title, series } = desk.state.settings;
  const factor = desk.state.technique?.time_factor;
  return [
    h("h2", {}, "Athlete"),
    text("athlete.alias", "Name to use", who.alias, "A first name or an alias; it appears in the summary."),
    choice("athlete.consent", "Agreed to be shown?", who.consent, { yes: "Yes", no: "No", unknown: "Not asked yet" },
      "Without a yes the face is blurred; while not asked, the episode is marked a draft."),
    h("label", { class: "check field" }, h("input", { type: "checkbox", checked: who.under_18, "data-key": "under18", onchange: (e) => edit("setting", { name: "athlete.under_18", value: e.target.checked }) }), "Under 18: a parent or guardian agrees too"),
    number("athlete.height_cm", "Height", who.height_cm, "cm", "For distances in centimetres.", 230),
    choice("athlete.level", "Level", who.level, { novice: "Novice", club: "Club", elite: "Elite" }, "Which reference ranges apply."),
    h("h2", {}, "Clip"),
    number("clip.captured_fps", "Captured at", fps, "frames a second",
      factor ? `Clip time runs at ${factor === 1 ? "real speed" : `${(1 / factor).toFixed(2)} of real speed`}. Set it for slow motion.` : "Looks like slow motion: set it to get seconds and stroke rate.", 2000),
    h("h2", {}, "Episode"),
    text("episode.title", "Title", title),
    text("episode.series", "Series", series),
  ];
}
