// Chapters and holds.

import { desk, edit, editSoon, flush } from "./api.js";
import { clipAt, phaseAt, toRecording } from "./clocks.js";
import { clock, h } from "./dom.js";
import { player, show } from "./player.js";

const here = () => toRecording(player.axis, player.time_s);

function chapter(c, k) {
  const renamed = (event) => editSoon(`chapter:${k}`, "rename_chapter", { recording_s: c.start_s, title: event.target.value }, `title:${c.start_s}`);
  return h("li", { class: "row", "data-item": `chapter:${c.start_s.toFixed(3)}` },
    h("button", { type: "button", class: "link when", "aria-label": `Go to chapter ${k + 1}`, onclick: () => show("recording", c.start_s) }, clock(c.start_s, 1)),
    h("label", { class: "grow" }, h("span", { class: "unseen" }, `Title of chapter ${k + 1}`),
      h("input", { type: "text", value: c.title, maxlength: 120, "data-key": `title:${k}`, oninput: renamed, onblur: () => flush(`chapter:${k}`) })),
    k > 0 && h("button", { type: "button", class: "quiet", title: "Start this chapter at the moment on screen", "aria-label": `Start chapter ${k + 1} here`, onclick: () => moveHere(c) }, "Here"),
    k > 0 && h("button", { type: "button", class: "quiet", "aria-label": `Remove chapter ${k + 1}`, title: "Remove this chapter", onclick: () => edit("remove_chapter", { recording_s: c.start_s }) }, "✕"));
}

function moveHere(c) {
  const to_s = here();
  if (!Number.isNaN(to_s)) edit("move_chapter", { recording_s: c.start_s, to_s });
}

async function addHere() {
  const recording_s = here();
  if (Number.isNaN(recording_s)) return;
  await edit("add_chapter", { recording_s, title: "New chapter" });
  const k = desk.state.chapters.findLastIndex((c) => c.start_s <= recording_s + 1e-3);
  const field = document.querySelector(`[data-key="title:${k}"]`);
  field?.focus();
  field?.select();
}

const gone = (what, times) => times.map((t) => h("p", { class: "struck" },
  `${what === "holds" ? "No hold" : "No chapter"} at ${clock(t, 1)}. `,
  h("button", { type: "button", class: "link", onclick: () => edit("restore", { what, recording_s: t }) }, "Put it back")));

function hold(one, k) {
  const fixed = one.recording_s === null;
  return h("li", { class: "row", "data-item": `hold:${k}` },
    h("button", { type: "button", class: "link when", "aria-label": `Go to hold ${k + 1}`, onclick: () => (fixed ? show("clip", one.clip_s) : show("recording", one.recording_s)) }, clock(fixed ? one.clip_s : one.recording_s, 1)),
    h("span", { class: "grow" }, h("b", {}, one.phase), ` ${one.inserted ? "added" : "your own pause"}`, h("br"), h("span", { class: "note" }, one.why)),
    !fixed && h("label", { class: "short" }, h("span", { class: "unseen" }, `Seconds of hold ${k + 1}`),
      h("input", { type: "number", min: 0.5, max: 30, step: 0.5, value: one.duration_s.toFixed(1), "data-key": `hold-s:${k}`, onchange: (e) => edit("lengthen_hold", { recording_s: one.recording_s, seconds: Number(e.target.value) }) }), " s"),
    !fixed && h("button", { type: "button", class: "quiet", "aria-label": `Drop hold ${k + 1}`, title: "No hold here", onclick: () => edit("drop_hold", { recording_s: one.recording_s }) }, "✕"));
}

function holdHere() {
  const recording_s = here();
  const phase = phaseAt(clipAt(player.axis, player.time_s));
  const close = phase && nearest(phase.stroke, clipAt(player.axis, player.time_s));
  if (!Number.isNaN(recording_s)) {
    edit("add_hold", { recording_s, phase: close ?? "", seconds: desk.state.settings.hold_seconds });
  }
}

const nearest = (s, t) => (Math.abs(s.catch_s - t) < Math.abs(s.finish_s - t) ? "catch" : "finish");

export function chapters() {
  const { chapters: all, program, removed_chapters: removed, dropped_holds: dropped } = desk.state;
  const talk = desk.talk.recording;
  return [
    h("h2", {}, "Chapters"),
    all.length ? h("ol", { class: "rows" }, all.map(chapter)) : h("p", { class: "note" }, "There are no chapters yet."),
    gone("chapters", removed),
    talk && h("button", { type: "button", class: "quiet", "data-key": "addchapter", onclick: addHere }, "Add a chapter at this moment"),
    h("h2", {}, "Holds"),
    h("p", { class: "note" }, "Freeze-frames at a catch or finish, with the angles drawn."),
    h("ol", { class: "rows" }, (program?.holds ?? []).map(hold)),
    gone("holds", dropped),
    talk && h("button", { type: "button", class: "quiet", "data-key": "addhold", onclick: holdHere }, "Hold what is on screen now"),
  ];
}
