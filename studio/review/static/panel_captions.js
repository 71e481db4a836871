// Captions: one line each; the chosen one opens into an editor.

import { desk, edit, editSoon, flush } from "./api.js";
import { $, clock, h, unclock } from "./dom.js";
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

const change = (row, changes, merge = "") => edit("caption", { recording_s: row.key_s, changes }, merge);

function open(row) {
  chosen = row.key_s;
  session += 1;
  show("recording", row.start_s);
  drawPanel();
  $("panel").querySelector("textarea")?.focus({ preventScroll: true });
}

/** What to save when the text of a caption is now `text`. A joined one then stands on its own. */
function textChange(row, text) {
  if (!row.joined) return { changes: { text: text === row.made ? null : text } };
  return { changes: { text, end_s: row.end_s, join_next: null }, absorbs_s: row.next.recording_s };
}

function typed(row, event) {
  const text = event.target.value.replace(/\s+/g, " ").trim();
  editSoon("caption", "caption", { recording_s: row.key_s, ...textChange(row, text) }, `cue:${row.key_s}:${session}`);
}

function timeField(row, name, label) {
  const apply = (event) => {
    const seconds = unclock(event.target.value);
    if (Number.isNaN(seconds)) {
      event.target.value = clock(row[name], 2);
      event.target.setAttribute("aria-invalid", "true");
    } else if (Math.abs(seconds - row[name]) > 0.004) {
      change(row, { [name]: seconds });
    }
  };
  return h("label", {}, label, h("input", {
    type: "text", inputmode: "decimal", size: 8, value: clock(row[name], 2), "data-key": `cue-${name}`, onchange: apply,
  }));
}

async function split(row) {
  const area = $("panel").querySelector("textarea");
  flush("caption");
  const at = area.selectionStart;
  if (at > 0 && at < area.value.length) await change(row, { split_at: at });
  else area.focus();
}

function merge(row) {
  flush("caption");
  return change(row, { join_next: true });
}

function editor(row, last) {
  const joined = row.joined;
  return h("li", { class: "cue open", "data-item": `cue:${row.key_s}` },
    h("label", {}, h("span", { class: "unseen" }, "Caption text"),
      h("textarea", { rows: 3, value: row.text, "data-key": "cue-text", oninput: (e) => typed(row, e), onblur: () => flush("caption") })),
    h("div", { class: "fields" }, timeField(row, "start_s", "From"), timeField(row, "end_s", "To")),
    h("div", { class: "fields" },
      row.split_at === null
        ? h("button", { type: "button", class: "quiet", "data-key": "cue-split", title: "Put the cursor where the next caption begins", onclick: () => split(row) }, "Split at cursor")
        : h("button", { type: "button", class: "quiet", "data-key": "cue-split", onclick: () => change(row, { split_at: null }) }, "Undo split"),
      !last && h("button", { type: "button", class: "quiet", "data-key": "cue-join", onclick: () => (joined ? change(row, { join_next: false }) : merge(row)) }, joined ? "Undo merge" : "Merge with next"),
      !row.changed && h("button", { type: "button", class: "quiet", "data-key": "cue-right", title: "Take it off the list of things to check", onclick: () => change(row, { text: row.made }) }, "Right as it is"),
      row.changed && h("button", { type: "button", class: "quiet", "data-key": "cue-reset", onclick: () => change(row, { text: null, start_s: null, end_s: null, split_at: null, join_next: null }) }, "As heard"),
      h("span", { class: "room" }),
      h("button", { type: "button", class: "quiet", "data-key": "cue-close", onclick: () => { flush("caption"); chosen = null; drawPanel(); } }, "Close")),
    row.split_at !== null && h("p", { class: "note" }, `Cut after “${row.text.slice(0, row.split_at).trim().split(" ").slice(-3).join(" ")}”.`));
}

const line = (row) => h("li", { class: "cue", "data-item": `cue:${row.key_s}` },
  h("button", { type: "button", class: "cueline", "data-key": `cue:${row.key_s}`, onclick: () => open(row) },
    h("span", { class: "when" }, clock(row.start_s, 1)),
    h("span", { class: `text${row.changed ? " changed" : ""}` }, row.text || "(no caption)")));

function words() {
  const add = (event) => {
    event.preventDefault();
    const { heard, text } = Object.fromEntries(new FormData(event.target));
    if (heard.trim()) edit("fix_word", { heard, text });
  };
  return h("details", { class: "wordfix", open: desk.state.word_fixes.length > 0 },
    h("summary", {}, "Mend a misheard word everywhere"),
    desk.state.word_fixes.map((w) => h("p", {}, `“${w.heard}” → “${w.text}” `,
      h("button", { type: "button", class: "link", onclick: () => edit("fix_word", { heard: w.heard, text: w.heard }) }, "take back"))),
    h("form", { class: "fields", onsubmit: add },
      h("label", {}, "Heard", h("input", { name: "heard", type: "text", required: true, "data-key": "heard" })),
      h("label", {}, "Meant", h("input", { name: "text", type: "text", "data-key": "meant" })),
      h("button", { class: "quiet" }, "Mend")));
}

export function captions() {
  const rows = desk.state.captions;
  if (!rows.length) return [h("h2", {}, "Captions"), h("p", { class: "note" }, "There are no words yet.")];
  return [
    h("h2", {}, `Captions (${rows.length})`), words(),
    h("ol", { class: "cues" }, rows.map((row, k) => (row.key_s === chosen ? editor(row, k === rows.length - 1) : line(row)))),
  ];
}
