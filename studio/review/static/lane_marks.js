// What can be dragged on the lanes: catches and finishes (on the clip), chapters and holds.

import { desk, edit, toast } from "./api.js";
import { events, fromRecording, roomForStroke, toRecording } from "./clocks.js";
import { $, clock, fill, h } from "./dom.js";
import { range, timeOf, width, xOf } from "./lanes.js";
import { player, seek, show } from "./player.js";

const frame_s = () => 1 / (desk.talk[player.axis]?.frame_rate || desk.state.program?.frame_rate || 30);

/** A mark: a button that is dragged along the axis, or moved with the arrow keys. */
function mark({ key, label, text, kind, at_s, end_s, row, moved, pressed }) {
  const button = h("button", {
    type: "button", class: `mark-${kind}`, "data-key": key, "data-moves": true, title: label,
    "aria-label": `${label}, at ${clock(at_s, 2)}. Drag, or move with the arrow keys.`,
  }, text);
  button.style.top = `${row.top}px`;
  button.style.height = `${row.height}px`;
  const place = (time_s) => { button.style.transform = `translateX(${xOf(time_s)}px)`; };
  const left_s = end_s === undefined ? at_s : Math.max(at_s, range.start_s); // keeps its words in sight
  place(left_s);
  if (end_s !== undefined) button.style.width = `${Math.max(8, xOf(end_s) - xOf(left_s) - 1)}px`;
  let start = null;
  let to_s = at_s;
  button.addEventListener("pointerdown", (event) => {
    button.setPointerCapture(event.pointerId);
    start = { x: event.clientX, dragged: false };
  });
  button.addEventListener("pointermove", (event) => {
    if (!start) return;
    const by = event.clientX - start.x;
    if (Math.abs(by) > 3) start.dragged = true;
    if (!start.dragged) return;
    to_s = timeOf(xOf(at_s) + by);
    place(to_s);
    seek(to_s);
  });
  button.addEventListener("pointerup", () => {
    const dragged = start?.dragged;
    start = null;
    if (dragged) moved(to_s, "");
  });
  button.addEventListener("click", (event) => {
    if (event.detail === 0 || Math.abs(to_s - at_s) < 1e-6) pressed();
  });
  button.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!way) return;
    event.preventDefault();
    const next = at_s + way * frame_s() * (event.shiftKey ? 10 : 1);
    seek(next);
    moved(next, key);
  });
  return button;
}

function turns(row) {
  if (player.axis !== "clip") return [];
  return events().map(({ event, clip_s }, k, all) => {
    const number = all.slice(0, k + 1).filter((e) => e.event === event).length;
    return mark({
      key: `${event}:${number}`, label: `${event} ${number}`, text: event === "catch" ? "▲" : "▼",
      kind: event, at_s: clip_s, row,
      moved: (to_s, merge) => edit("move_event",
        { event, from_s: clip_s, to_s: Math.max(0, to_s) }, merge && `turn:${merge}`),
      pressed: () => seek(clip_s),
    });
  });
}

/** A stroke that was missed: its catch at the plumb line, its finish to be moved into place. */
export async function addStroke() {
  const found = roomForStroke(player.time_s);
  if (!found) {
    toast("A stroke is under way here, or the next follows too soon: move its ▲ and ▼ instead.");
    return;
  }
  if (!await edit("add_stroke", found)) return;
  const at = events().filter((e) => e.event === "finish")
    .findIndex((e) => Math.abs(e.clip_s - found.finish_s) < 2e-3);
  $("lanemarks").querySelector(`[data-key="finish:${at + 1}"]`)?.focus();
  toast("Stroke added. Move its ▼ to where the hands arrive: drag it, or press ← and →.");
}

function chapters(row) {
  const all = desk.state.chapters;
  const from = (s) => fromRecording(player.axis, s);
  const visible = all.filter((c, k) => {
    const end = k + 1 < all.length ? from(all[k + 1].start_s) : Infinity;
    return from(c.start_s) < range.end_s && end > range.start_s;
  });
  return visible.map((chapter) => {
    const k = all.indexOf(chapter);
    const start = from(chapter.start_s);
    const end = k + 1 < all.length ? from(all[k + 1].start_s) : range.end_s;
    return mark({
      key: `chapter:${k}`, label: `Chapter: ${chapter.title}`, kind: `chapter ${chapter.kind ?? ""}`, row,
      text: chapter.title, at_s: start, end_s: Math.min(end, range.end_s + 1),
      moved: (to_s, merge) => (k ? move("chapter", chapter.start_s, to_s, merge) : placeMarks(rowsNow)),
      pressed: () => seek(start),
    });
  });
}

function move(what, from_s, to, merge) {
  const to_s = toRecording(player.axis, to);
  if (Number.isNaN(to_s)) return edit(`move_${what}`, { recording_s: from_s, to_s: from_s });
  return edit(`move_${what}`, { recording_s: from_s, to_s: Math.max(0, to_s) }, merge && `move:${merge}`);
}

function holds(row) {
  const found = desk.state.program?.holds ?? [];
  return found.map((hold, k) => {
    const clipView = player.axis === "clip";
    let at_s = hold.program_start_s;
    if (clipView) at_s = hold.clip_s;
    else if (player.axis === "recording") at_s = hold.recording_s ?? NaN;
    if (Number.isNaN(at_s) || at_s > range.end_s || at_s + hold.duration_s < range.start_s) return null;
    const still = player.axis === "recording" && hold.inserted;
    return mark({
      key: `hold:${k}`, label: `Hold on the ${hold.phase}, ${hold.duration_s.toFixed(1)} seconds`,
      kind: `hold ${hold.inserted ? "inserted" : ""}`, row, at_s,
      text: clipView || still || xOf(at_s + hold.duration_s) - xOf(at_s) < 58 ? "◆" : `◆ ${hold.phase}`,
      end_s: clipView || still ? undefined : at_s + hold.duration_s,
      moved: (to_s, merge) => (clipView || hold.recording_s === null ? show("clip", hold.clip_s)
        : move("hold", hold.recording_s, to_s, merge)),
      pressed: () => seek(at_s),
    });
  });
}

let rowsNow = null;

export function placeMarks(rows) {
  rowsNow = rows;
  if (!width()) return;
  fill($("lanemarks"),
    rows.strokes ? turns(rows.strokes) : [],
    rows.chapters ? chapters(rows.chapters) : [],
    rows.holds ? holds(rows.holds) : []);
}
