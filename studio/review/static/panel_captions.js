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

/** What to save when the text is now `text`. A merged caption then stands on its own. */
function textChange(row, text) {
  if (!row.joined) return { changes: { text: text === row.made ? null : text } };
  return { changes: { text, end_s: row.end_s, join_next: null }, absorbs_s: row.next.recording_s };
}

function typed(row, event) {
  const text = event.target.value.replace(/\s+/g, " ").trim();
  const args = { recording_s: row.key_s, ...textChange(row, text) };
  editSoon("caption", "caption", args, `cue:${row.key_s}:${session}`);
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
  const area = $("panel").querySelector("textarea");
  const at = area.selectionStart;
  if (at > 0 && at < area.value.length) change(row, { split_at: at });
  else area.focus();
}

function splitButton(row) {
  const key = { "data-key": "cue-split" };
  if (row.split_at !== null) return quiet("Undo split", () => change(row, { split_at: null }), key);
  return quiet("Split at cursor", () => split(row),
    { ...key, title: "Put the cursor where the next caption begins" });
}

function joinButton(row) {
  return quiet(row.joined ? "Undo merge" : "Merge with next",
    () => change(row, { join_next: !row.joined }), { "data-key": "cue-join" });
}

const AS_HEARD = { text: null, start_s: null, end_s: null, split_at: null, join_next: null };

function settleButton(row) {
  if (row.changed) return quiet("As heard", () => change(row, AS_HEARD), { "data-key": "cue-reset" });
  return quiet("Right as it is", () => change(row, { text: row.made }),
    { "data-key": "cue-right", title: "Take it off the list of things to check" });
}

function cutNote(row) {
  const before = row.text.slice(0, row.split_at).trim().split(" ").slice(-3).join(" ");
  return note(`Cut after “${before}”.`);
}

const editor = (row, last) => h("li", { class: "cue open", "data-item": `cue:${row.key_s}` },
  h("label", {}, unseen("Caption text"), h("textarea", {
    rows: 3, value: row.text, "data-key": "cue-text",
    oninput: (event) => typed(row, event), onblur: () => flush("caption"),
  })),
  h("div", { class: "fields" }, timeField(row, "start_s", "From"), timeField(row, "end_s", "To")),
  h("div", { class: "fields" },
    splitButton(row), !last && joinButton(row), settleButton(row),
    quiet("Close", close, { "data-key": "cue-close" })),
  row.split_at !== null && cutNote(row));

const line = (row) => h("li", { class: "cue", "data-item": `cue:${row.key_s}` },
  h("button", {
    type: "button", class: "cueline", "data-key": `cue:${row.key_s}`, onclick: () => open(row),
  },
  h("span", { class: "when" }, clock(row.start_s, 1)),
  h("span", { class: row.changed ? "text changed" : "text" }, row.text || "(no caption)")));

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
  if (!rows.length) return [h("h2", {}, "Captions"), note("There are no words yet.")];
  const draw = (row, k) => (row.key_s === chosen ? editor(row, k === rows.length - 1) : line(row));
  return [
    h("h2", {}, `Captions (${rows.length})`),
    words(),
    h("ol", { class: "cues" }, rows.map(draw)),
  ];
}
