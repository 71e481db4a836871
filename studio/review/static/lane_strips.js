// Lanes that are strips: strokes, playhead, words, captions.

import { desk } from "./api.js";
import { clipAt, eventsOn, fromRecording, phaseAt } from "./clocks.js";
import { range, timeOf, width, xOf } from "./lanes.js";
import { player } from "./player.js";

const DRIVE = "#0072b2";
const RECOVERY = "#a9cfe6";
const STATES = { playing: "#4d8f7a", paused: "#c9b458", scrubbing: "#b98aa5", absent: "#e4e2db" };

/** Runs of equal `kind(time)` along the axis, sampled at every pixel: [[kind, x0, x1], ...]. */
function runs(kind) {
  const found = [];
  for (let x = 0; x < width(); x += 1) {
    const now = kind(timeOf(x + 0.5));
    const last = found.at(-1);
    if (last && last[0] === now) last[2] = x + 1;
    else found.push([now, x, x + 1]);
  }
  return found;
}

export function drawStrokes(pen, row) {
  const base = row.top + row.height - 6;
  const phase = (t) => phaseAt(clipAt(player.axis, t))?.phase ?? "";
  for (const [kind, x0, x1] of runs(phase)) {
    if (!kind) continue;
    const tall = kind === "drive" ? 20 : 9;
    pen.fillStyle = kind === "drive" ? DRIVE : RECOVERY;
    pen.fillRect(x0, base - tall, x1 - x0, tall);
  }
  if (player.axis === "clip") return; // there the turns are buttons
  for (const { event, time_s } of eventsOn(player.axis)) {
    if (time_s < range.start_s || time_s > range.end_s) continue;
    const x = xOf(time_s);
    pen.fillStyle = "#1c2a33";
    pen.beginPath();
    const [tip, foot] = event === "catch" ? [row.top + 3, row.top + 9] : [row.top + 9, row.top + 3];
    pen.moveTo(x, tip);
    pen.lineTo(x - 4, foot);
    pen.lineTo(x + 4, foot);
    pen.fill();
  }
}

export function drawPlayhead(pen, row) {
  const spans = desk.talk.playhead?.spans ?? [];
  pen.font = "11px system-ui, sans-serif";
  pen.textBaseline = "middle";
  for (const [start, end, state] of spans) {
    const from = fromRecording(player.axis, start);
    const to = fromRecording(player.axis, end - 1e-3);
    if (Number.isNaN(from) || Number.isNaN(to) || to < range.start_s || from > range.end_s) continue;
    const [x0, x1] = [xOf(from), xOf(to)];
    pen.fillStyle = STATES[state];
    pen.fillRect(x0, row.top + 2, Math.max(1, x1 - x0 - 1), row.height - 4);
    if (x1 - x0 > 56) {
      pen.fillStyle = "#12191e";
      pen.fillText(state, Math.max(0, x0) + 5, row.top + row.height / 2 + 0.5);
    }
  }
}

function texts(pen, row, items, colour) {
  pen.font = "12px system-ui, sans-serif";
  pen.textBaseline = "middle";
  for (const { text, from, to, unsure } of items) {
    const [x0, x1] = [xOf(from), xOf(to)];
    if (x1 < 0 || x0 > width()) continue;
    pen.fillStyle = unsure ? "#f6e3d4" : colour;
    pen.fillRect(x0, row.top + 2, Math.max(1, x1 - x0 - 1), row.height - 4);
    if (unsure) {
      pen.fillStyle = "#d55e00";
      pen.fillRect(x0, row.top + row.height - 4, Math.max(1, x1 - x0 - 1), 2);
    }
    if (x1 - x0 < 14) continue;
    pen.save();
    pen.beginPath();
    pen.rect(x0, row.top, x1 - x0 - 3, row.height);
    pen.clip();
    pen.fillStyle = "#1c2a33";
    pen.fillText(text, Math.max(x0, 0) + 4, row.top + row.height / 2 + 0.5);
    pen.restore();
  }
}

/** Those of a list sorted by start (on the recording's clock) that the stretch shows. */
function shown(list, start, end) {
  const reach = (t) => fromRecording(player.axis, t);
  const found = [];
  for (let k = 0; k < list.length; k += 1) {
    if (player.axis === "recording" && end(list[k]) < range.start_s) continue;
    const from = reach(start(list[k]));
    if (from > range.end_s) break;
    const to = reach(end(list[k]) - 1e-3);
    if (!Number.isNaN(from) && !(to < range.start_s)) found.push([list[k], from, Number.isNaN(to) ? from + 0.3 : to]);
  }
  return found;
}

export function drawWords(pen, row) {
  const timed = desk.talk.words.length;
  const list = timed ? desk.talk.words : desk.talk.sentences;
  texts(pen, row, shown(list, (w) => w[1], (w) => w[2]).map(([word, from, to]) => (
    { text: word[0], from, to, unsure: timed && word[3] < 0.5 })), "#eef0ee");
}

export function drawCues(pen, row) {
  texts(pen, row, shown(desk.state.cues, (c) => c[0] / 1000, (c) => c[1] / 1000)
    .map(([cue, from, to]) => ({ text: cue[2].replace("\n", " "), from, to })), "#dfe9ef");
}
