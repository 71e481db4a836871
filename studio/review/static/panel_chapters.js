// Chapters and holds.

import { desk, edit, editSoon, flush } from "./api.js";
import { clipAt, phaseAt, toRecording } from "./clocks.js";
import { clock, h, link, note, quiet, unseen } from "./dom.js";
import { player, show } from "./player.js";

/** Recording time of the moment on screen; NaN where it shows none. */
const here = () => toRecording(player.axis, player.time_s);

function chapter(c, k) {
  const pending = `chapter:${k}`;
  const renamed = (event) => editSoon(pending, "rename_chapter",
    { recording_s: c.start_s, title: event.target.value }, `title:${c.start_s}`);
  return h("li", { class: "row", "data-item": `chapter:${c.start_s.toFixed(3)}` },
    link(clock(c.start_s, 1), () => show("recording", c.start_s),
      { class: "link when", "aria-label": `Go to chapter ${k + 1}` }),
    h("label", { class: "grow" }, unseen(`Title of chapter ${k + 1}`),
      h("input", {
        type: "text", value: c.title, maxlength: 120, "data-key": `title:${k}`,
        oninput: renamed, onblur: () => flush(pending),
      })),
    k > 0 && quiet("Here", () => moveHere(c), {
      title: "Start this chapter at the moment on screen", "aria-label": `Start chapter ${k + 1} here`,
    }),
    k > 0 && quiet("✕", () => edit("remove_chapter", { recording_s: c.start_s }), {
      title: "Remove this chapter", "aria-label": `Remove chapter ${k + 1}`,
    }));
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

/** What was removed, each with a way back. */
const gone = (what, word, times) => times.map((recording_s) => h("p", { class: "struck" },
  `No ${word} at ${clock(recording_s, 1)}. `,
  link("Put it back", () => edit("restore", { what, recording_s }))));

function seconds(one, k) {
  const set = (event) => edit("lengthen_hold",
    { recording_s: one.recording_s, seconds: Number(event.target.value) });
  return h("label", { class: "short" }, unseen(`Seconds of hold ${k + 1}`),
    h("input", {
      type: "number", min: 0.5, max: 30, step: 0.5, value: one.duration_s.toFixed(1),
      "data-key": `hold-s:${k}`, onchange: set,
    }), " s");
}

function hold(one, k) {
  const own = one.recording_s !== null; // in an episode of the clip alone holds have no recording
  const [where, at_s] = own ? ["recording", one.recording_s] : ["clip", one.clip_s];
  return h("li", { class: "row", "data-item": `hold:${k}` },
    link(clock(at_s, 1), () => show(where, at_s),
      { class: "link when", "aria-label": `Go to hold ${k + 1}` }),
    h("span", { class: "grow" },
      h("b", {}, one.phase), one.inserted ? " added" : " your own pause", h("br"),
      h("span", { class: "note" }, one.why)),
    own && seconds(one, k),
    own && quiet("✕", () => edit("drop_hold", { recording_s: one.recording_s }),
      { title: "No hold here", "aria-label": `Drop hold ${k + 1}` }));
}

function holdHere() {
  const recording_s = here();
  if (Number.isNaN(recording_s)) return;
  const clip_s = clipAt(player.axis, player.time_s);
  const { stroke } = phaseAt(clip_s) ?? {};
  let phase = "";
  if (stroke) {
    const toCatch = Math.abs((stroke.catch_s ?? Infinity) - clip_s);
    phase = toCatch < Math.abs((stroke.finish_s ?? Infinity) - clip_s) ? "catch" : "finish";
  }
  edit("add_hold", { recording_s, phase, seconds: desk.state.settings.hold_seconds });
}

export function chapters() {
  const { chapters: all, program, removed_chapters: removed, dropped_holds: dropped } = desk.state;
  const talk = desk.talk.recording;
  return [
    h("h2", {}, "Chapters"),
    all.length ? h("ol", { class: "rows" }, all.map(chapter)) : note("There are no chapters yet."),
    gone("chapters", "chapter", removed),
    talk && quiet("Add a chapter at this moment", addHere, { "data-key": "addchapter" }),
    h("h2", {}, "Holds"),
    note("Freeze-frames at a catch or finish, with the angles drawn."),
    h("ol", { class: "rows" }, (program?.holds ?? []).map(hold)),
    gone("holds", "hold", dropped),
    talk && quiet("Hold what is on screen now", holdHere, { "data-key": "addhold" }),
  ];
}
