// Captions: one line each; the chosen one opens into an editor.

import { desk, edit, editSoon, flush } from "./api.js";
import { $, clock, h, link, note, quiet, unclock, unseen } from "./dom.js";
import { drawPanel, openPanel } from "./panels.js";
import { show } from "./player.js";

let chosen = null; // key_s of the caption under edit
let session = 0; // edits of one visit to a field are one step of undo

/** Open the caption that is said at a recording time. */
export function seekCaption(recording_s) {
  const rows = desk.state.captions;
  const row = rows.findLast((r) => r.start_s <= recording_s + 0.05) ?? rows[0];
  chosen = row?.key_s ?? null;
  openPanel("captions", row ? `cue:${row.key_s}` : "");
}

const change = (row, changes) => {
  flush("caption");
  return edit("caption", { recording_s: row.key_s, changes });
};

function open(row) {
  chosen = row.key_s;
  session += 1;
  show("recording", row.start_s);
  drawPanel();
  $("panel").querySelector("textarea")?.focus({ preventScroll: true });
}

function close() {
  flush("caption");
  chosen = null;
  drawPanel();
}

/** One step: a change for the first of the captions that a row shows, another for the rest. */
function changeAll(row, first, rest) {
  flush("caption");
  return edit("caption", argsFor(row, first, rest));
}

const argsFor = (row, first, rest) => ({
  recording_s: row.key_s, changes: first, also: row.keys_s.slice(1).map((key_s) => [key_s, rest]),
});

/** Single spaces, no empty lines; each line is a caption. */
const tidy = (text) => text.split("\n").map((line) => line.replace(/\s+/g, " ").trim())
  .filter(Boolean).join("\n");

/** What to save when the text is now `text`: the first caption has it, those merged with it none. */
const textArgs = (row, text) => (text === row.made
  ? argsFor(row, { text: null, split_at: null }, { text: null, split_at: null })
  : argsFor(row, { text, split_at: null }, { text: "", split_at: null }));

function typed(row, event) {
  editSoon("caption", "caption", textArgs(row, tidy(event.target.value)), `cue:${row.key_s}:${session}`);
}

function setText(row, text) {
  flush("caption");
  return edit("caption", textArgs(row, tidy(text)));
}

function timeField(row, name, label) {
  const apply = ({ target }) => {
    const seconds = unclock(target.value);
    if (Number.isNaN(seconds)) {
      target.value = clock(row[name], 2);
      target.setAttribute("aria-invalid", "true");
    } else if (Math.abs(seconds - row[name]) > 0.004) {
      change(row, { [name]: seconds });
    }
  };
  return h("label", {}, label, h("input", {
    type: "text", inputmode: "decimal", size: 8, value: clock(row[name], 2),
    "data-key": `cue-${name}`, onchange: apply,
  }));
}

function split(row) {
  const area = $("panel").querySelector("[data-key=cue-text]");
  const at = area.selectionStart;
  const parts = [area.value.slice(0, at), area.value.slice(at)];
  if (parts.every((part) => part.trim())) setText(row, parts.join("\n"));
  area.focus();
}

const splitButtons = (row) => [
  quiet("Split at cursor", () => split(row),
    { "data-key": "cue-split", title: "Put the cursor where the next caption begins" }),
  row.text.includes("\n") && quiet("Undo splits", () => setText(row, row.text.replaceAll("\n", " ")),
    { "data-key": "cue-unsplit" }),
];

function merge(row) {
  flush("caption");
  const last_s = row.keys_s.at(-1);
  const joins = { join_next: true };
  return edit("caption", row.keys_s.length === 1
    ? { recording_s: row.key_s, changes: { ...joins, end_s: null } }
    : { recording_s: row.key_s, changes: { end_s: null }, also: [[last_s, joins]] });
}

const unmerge = (row) => changeAll(row, { join_next: null, end_s: null }, { join_next: null });

const joinButtons = (row, last) => [
  !last && quiet("Merge with next", () => merge(row), { "data-key": "cue-join" }),
  row.keys_s.length > 1 && !row.rewritten
    && quiet("Undo merge", () => unmerge(row), { "data-key": "cue-unjoin" }),
];

const AS_HEARD = { text: null, start_s: null, end_s: null, split_at: null, join_next: null };

function settleButton(row) {
  if (row.changed) {
    return quiet("As heard", () => changeAll(row, AS_HEARD, AS_HEARD), { "data-key": "cue-reset" });
  }
  return quiet("Right as it is", () => change(row, { text: row.made }),
    { "data-key": "cue-right", title: "Take it off the list of things to check" });
}

/** What is being typed stays as typed, with its last space or new line. */
function shownText(row) {
  const area = $("panel").querySelector("[data-key=cue-text]");
  return area && area === document.activeElement && tidy(area.value) === row.text ? area.value : row.text;
}

const editor = (row, last) => h("li", { class: "cue open", "data-item": `cue:${row.key_s}` },
  h("label", {}, unseen("Caption text"), h("textarea", {
    rows: Math.max(3, row.text.split("\n").length + 1), value: shownText(row), "data-key": "cue-text",
    "aria-describedby": "cuenote", oninput: (event) => typed(row, event), onblur: () => flush("caption"),
  })),
  h("p", { class: "note", id: "cuenote" }, "A new line begins the next caption."),
  h("div", { class: "fields" }, timeField(row, "start_s", "From"), timeField(row, "end_s", "To")),
  h("div", { class: "fields" },
    splitButtons(row), joinButtons(row, last), settleButton(row),
    quiet("Close", close, { "data-key": "cue-close" })));

const line = (row) => h("li", { class: "cue", "data-item": `cue:${row.key_s}` },
  h("button", {
    type: "button", class: "cueline", "data-key": `cue:${row.key_s}`, onclick: () => open(row),
  },
  h("span", { class: "when" }, clock(row.start_s, 1)),
  h("span", { class: row.changed ? "text changed" : "text" }, row.text.replaceAll("\n", " / ") || "(no caption)")));

/** Corrections whose caption is gone, because the talk was heard or worded anew. */
const lost = () => desk.state.lost_captions.map(({ recording_s, text }) => h("p", {
  class: "struck", "data-item": `lost:${recording_s.toFixed(3)}`,
}, `No caption begins near ${clock(recording_s, 1)} any more${text ? `; put right was “${text}”` : ""}. `,
link("Take the correction out", () => edit("caption", { recording_s, changes: AS_HEARD }),
  { "data-key": `lost:${recording_s}`, "aria-label": `Take out the correction at ${clock(recording_s, 1)}` })));

function words() {
  const add = (event) => {
    event.preventDefault();
    const { heard, text } = Object.fromEntries(new FormData(event.target));
    if (heard.trim()) edit("fix_word", { heard, text });
  };
  const fixes = desk.state.word_fixes;
  return h("details", { class: "wordfix", open: fixes.length > 0 },
    h("summary", {}, "Mend a misheard word everywhere"),
    fixes.map(({ heard, text }) => h("p", {}, `“${heard}” → “${text}” `,
      link("take back", () => edit("fix_word", { heard, text: heard })))),
    h("form", { class: "fields", onsubmit: add },
      h("label", {}, "Heard", h("input", { name: "heard", type: "text", required: true, "data-key": "heard" })),
      h("label", {}, "Meant", h("input", { name: "text", type: "text", "data-key": "meant" })),
      h("button", { class: "quiet" }, "Mend")));
}

export function captions() {
  const rows = desk.state.captions;
  if (!rows.length) return [h("h2", {}, "Captions"), note("There are no words yet."), lost()];
  const draw = (row, k) => (row.key_s === chosen ? editor(row, k === rows.length - 1) : line(row));
  return [
    h("h2", {}, `Captions (${rows.length})`),
    words(), lost(),
    h("ol", { class: "cues" }, rows.map(draw)),
  ];
}
