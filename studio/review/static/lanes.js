// The lanes under the video: one time axis, the clock of the video on show.

import { desk } from "./api.js";
import { $, clock, fill, h, quiet } from "./dom.js";
import { curves } from "./lane_curves.js";
import { addStroke, placeMarks } from "./lane_marks.js";
import { drawCues, drawPlayhead, drawStrokes, drawWords } from "./lane_strips.js";
import { duration, player, seek } from "./player.js";

const RULER = 18;
const ROWS = [
  { name: "strokes", label: "Strokes", height: 38 },
  { name: "angles", label: "Angles", height: 86 },
  { name: "playhead", label: "Playhead", height: 18, talk: true },
  { name: "words", label: "Words", height: 20, talk: true },
  { name: "cues", label: "Captions", height: 24, talk: true },
  { name: "chapters", label: "Chapters", height: 30, talk: true },
  { name: "holds", label: "Holds", height: 28 },
];
const canvas = $("lanecanvas");
const pen = canvas.getContext("2d");
/** The stretch on show, seconds of the axis. */
export const range = { start_s: 0, end_s: 1 };
let windows = {};

/** Lanes with their places, for the axis on show. */
export function layout() {
  let top = RULER;
  const rows = {};
  for (const row of ROWS) {
    if (row.talk && (player.axis === "clip" || !desk.talk.recording)) continue;
    rows[row.name] = { ...row, top };
    top += row.height + 3;
  }
  return { rows, height: top };
}

export const width = () => $("lanearea").clientWidth;
export const xOf = (time_s) => ((time_s - range.start_s) / (range.end_s - range.start_s)) * width();
export const timeOf = (x) => range.start_s + (x / width()) * (range.end_s - range.start_s);

function setRange(start_s, length_s) {
  const total = duration() || 1;
  const length = Math.min(Math.max(length_s, 1), total);
  range.start_s = Math.min(Math.max(0, start_s), total - length);
  range.end_s = range.start_s + length;
  windows[player.axis] = length;
  drawLanes();
}

export function zoom(factor, at_s = player.time_s) {
  const length = (range.end_s - range.start_s) * factor;
  const share = Math.min(1, Math.max(0, (at_s - range.start_s) / (range.end_s - range.start_s)));
  setRange(at_s - share * length, length);
}

/** A sensible stretch for a view seen for the first time: the clip whole, a talk by the minute. */
export function fitRange() {
  const length = windows[player.axis] ?? (player.axis === "clip" ? duration() : 60);
  setRange(player.time_s - length / 4, length);
}

function ruler() {
  const length = range.end_s - range.start_s;
  const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300].find((s) => (s / length) * width() > 64) ?? 600;
  pen.fillStyle = "#5b6770";
  pen.font = "11px system-ui, sans-serif";
  pen.textBaseline = "middle";
  for (let t = Math.ceil(range.start_s / step) * step; t <= range.end_s; t += step) {
    const x = xOf(t);
    pen.fillRect(x, RULER - 5, 1, 5);
    const text = clock(t, step < 1 ? 1 : 0);
    if (x + 34 < width()) pen.fillText(text, x + 3, 8);
  }
}

/** Everything; only when the stretch or the state changes, not for every frame. */
export function drawLanes() {
  if (!desk.state || !player.axis) return;
  const { rows, height } = layout();
  const ratio = devicePixelRatio || 1;
  $("lanearea").style.height = `${height}px`;
  canvas.width = Math.round(width() * ratio);
  canvas.height = Math.round(height * ratio);
  canvas.style.height = `${height}px`;
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, width(), height);
  for (const row of Object.values(rows)) {
    pen.fillStyle = "#ffffff";
    pen.fillRect(0, row.top, width(), row.height);
  }
  ruler();
  const draw = { strokes: drawStrokes, angles: curves, playhead: drawPlayhead, words: drawWords, cues: drawCues };
  for (const [name, row] of Object.entries(rows)) draw[name]?.(pen, row);
  placeMarks(rows);
  labels(rows);
  moveCursor();
}

function labels(rows) {
  const add = player.axis === "clip" && rows.strokes;
  const made = Object.values(rows).map((row) => {
    const label = h("span", {}, row.label);
    label.style.top = `${row.top}px`;
    label.style.height = `${row === add ? row.height / 2 : row.height}px`;
    return label;
  });
  fill($("lanelabels"), made, add && adder(add));
}

/** The way to a stroke that was missed, beside its lane. */
function adder(row) {
  const button = quiet("+ Add", addStroke, {
    id: "addstroke", "data-key": "addstroke", "aria-label": "Add a stroke, its catch at the plumb line",
    title: "Add a stroke that was missed, its catch at the plumb line (A)",
  });
  button.style.top = `${row.top + row.height / 2}px`;
  return button;
}

/** The plumb line at the frame on screen; turns the page when it leaves the stretch. */
export function moveCursor() {
  const length = range.end_s - range.start_s;
  if (!dragging && (player.time_s < range.start_s || player.time_s > range.end_s)) {
    setRange(player.time_s - length * 0.1, length);
    return;
  }
  $("plumb").style.transform = `translateX(${xOf(player.time_s)}px)`;
}

let dragging = false;

function scrub(event) {
  const edge = $("lanearea").getBoundingClientRect();
  seek(timeOf(event.clientX - edge.left));
}

function wheel(event) {
  const edge = $("lanearea").getBoundingClientRect();
  if (event.ctrlKey || event.metaKey) {
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.25 : 0.8, timeOf(event.clientX - edge.left));
  } else if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
    event.preventDefault();
    const length = range.end_s - range.start_s;
    setRange(range.start_s + ((event.deltaX || event.deltaY) / width()) * length, length);
  }
}

export function startLanes() {
  fill($("lanetools"),
    h("span", { class: "legend" },
      h("i", { class: "drive" }), "drive", h("i", { class: "recovery" }), "recovery",
      h("i", { class: "band" }), "reference band"),
    h("span", { class: "room" }),
    h("span", { id: "curvepick", class: "curvepick", role: "group", "aria-label": "Angle on show" }),
    h("button", { type: "button", class: "quiet", "aria-label": "Zoom out", onclick: () => zoom(1.6) }, "−"),
    h("button", { type: "button", class: "quiet", "aria-label": "Zoom in", onclick: () => zoom(0.625) }, "+"),
    h("button", { type: "button", class: "quiet", onclick: () => setRange(0, duration()) }, "All"),
  );
  const area = $("lanearea");
  area.addEventListener("pointerdown", (event) => {
    if (event.target.closest("button")) return;
    dragging = true;
    area.setPointerCapture(event.pointerId);
    scrub(event);
  });
  area.addEventListener("pointermove", (event) => { if (dragging) scrub(event); });
  area.addEventListener("pointerup", () => { dragging = false; });
  area.addEventListener("wheel", wheel, { passive: false });
  new ResizeObserver(() => drawLanes()).observe(area);
}
