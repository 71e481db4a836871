// The three clocks, and the maps between them. Every function names its clocks.

import { desk } from "./api.js";
import { lastAtMost, unpack } from "./dom.js";

let rows = null; // recording rows: times, clip times, placement
let body = null; // body over clip time

/** Unpack what `talk` and `body` carry; call when either changes. */
export function unpackClocks() {
  const playhead = desk.talk?.playhead;
  rows = playhead && {
    recording_s: unpack(playhead.recording_s, Float32Array),
    clip_s: unpack(playhead.clip_s, Float32Array),
    runs: unpack(playhead.placement, Int32Array),
  };
}

export function unpackBody() {
  const plain = desk.body;
  const floats = (packed) => unpack(packed, Float32Array);
  const each = (object) => Object.fromEntries(Object.entries(object).map(([k, v]) => [k, floats(v)]));
  body = plain && {
    time_s: floats(plain.time_s), points: each(plain.points), angles: each(plain.angles),
    facing: plain.facing,
  };
}

export const bodyTrack = () => body;
export const recordingRows = () => rows;

/** Row of the recording frame on screen at a recording time; -1 before the first. */
export const rowAt = (recording_s) => (rows ? lastAtMost(rows.recording_s, recording_s + 2e-3) : -1);

export function clipAtRecording(recording_s) {
  const row = rowAt(recording_s);
  return row < 0 ? NaN : rows.clip_s[row];
}

/** Clip to screen, [[a, b, tx], [c, d, ty]], at a recording time; null = absent. */
export function placementAt(recording_s) {
  const row = rowAt(recording_s);
  if (row < 0) return null;
  let low = 0;
  let high = rows.runs.length / 2;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows.runs[2 * middle] <= row) low = middle + 1;
    else high = middle;
  }
  const index = low ? rows.runs[2 * low - 1] : -1;
  return index < 0 ? null : desk.talk.playhead.clip_to_screen[index];
}

const shots = () => desk.state?.program?.shots ?? [];

function shotAt(program_s) {
  return shots().findLast((shot) => shot[1] <= program_s + 1e-6);
}

/** Recording time that the program shows; NaN on cards. An inserted hold stands still. */
export function recordingAtProgram(program_s) {
  const shot = shotAt(program_s);
  if (!shot || shot[0] === "card" || shot[0] === "clip") return NaN;
  return shot[3] + Math.min(program_s - shot[1], shot[2]) * shot[4];
}

/** Program time of a recording moment, after any hold inserted there; NaN = cut away. */
export function programAtRecording(recording_s) {
  let found = NaN;
  for (const [kind, start, length, source, speed] of shots()) {
    if (kind === "card" || kind === "clip" || !speed) continue;
    const into = recording_s - source;
    if (into >= -1e-6 && into <= length * speed + 1e-6) found = start + into / speed;
  }
  return found;
}

export function clipAtProgram(program_s) {
  const hold = (desk.state?.program?.holds ?? []).find(
    (one) => program_s >= one.program_start_s && program_s < one.program_start_s + one.duration_s);
  if (hold) return hold.clip_s;
  const shot = shotAt(program_s);
  if (shot?.[0] === "clip") return shot[3] + (program_s - shot[1]) * shot[4];
  return clipAtRecording(recordingAtProgram(program_s));
}

/** Clip time shown at a time of the axis ("clip", "recording" or "program"); NaN = none. */
export function clipAt(axis, time_s) {
  if (axis === "clip") return time_s;
  return axis === "recording" ? clipAtRecording(time_s) : clipAtProgram(time_s);
}

/** Time on the axis of a recording moment; NaN where the axis does not show it. */
export function fromRecording(axis, recording_s) {
  if (axis === "recording") return recording_s;
  return axis === "program" ? programAtRecording(recording_s) : clipAtRecording(recording_s);
}

/** Recording time of an axis time; NaN where there is none. */
export function toRecording(axis, time_s) {
  if (axis === "recording") return time_s;
  return axis === "program" ? recordingAtProgram(time_s) : NaN;
}

/** The recording moment nearest to `near_s` that shows a clip time; NaN = never. */
export function recordingAtClip(clip_s, near_s = 0) {
  if (!rows) return NaN;
  const frame_s = 0.6 / (desk.talk.clip?.frame_rate || 30);
  let best = NaN;
  for (let row = 0; row < rows.clip_s.length; row += 1) {
    if (Math.abs(rows.clip_s[row] - clip_s) > frame_s) continue;
    if (Number.isNaN(best) || Math.abs(rows.recording_s[row] - near_s) < Math.abs(best - near_s)) {
      best = rows.recording_s[row];
    }
  }
  return best;
}

/** Frame of the body track at a clip time; -1 = none. */
export function bodyFrame(clip_s) {
  if (!body || !body.time_s.length || Number.isNaN(clip_s)) return -1;
  const before = Math.max(0, lastAtMost(body.time_s, clip_s));
  const after = Math.min(before + 1, body.time_s.length - 1);
  return Math.abs(body.time_s[after] - clip_s) < Math.abs(body.time_s[before] - clip_s) - 1e-4
    ? after : before;
}

/** "catch", "drive", "finish" or "recovery" at a clip time, and its stroke; null = outside. */
export function phaseAt(clip_s) {
  for (const stroke of desk.state?.technique?.strokes ?? []) {
    const { catch_s, finish_s, next_catch_s } = stroke;
    if (catch_s !== null && finish_s !== null && clip_s >= catch_s && clip_s < finish_s) {
      return { phase: "drive", stroke };
    }
    if (finish_s !== null && next_catch_s !== null && clip_s >= finish_s && clip_s < next_catch_s) {
      return { phase: "recovery", stroke };
    }
  }
  return null;
}

/** Clip times of all catches and finishes, in order: [{event, clip_s, stroke}]. */
export function events() {
  const found = [];
  for (const stroke of desk.state?.technique?.strokes ?? []) {
    if (stroke.catch_s !== null) found.push({ event: "catch", clip_s: stroke.catch_s, stroke });
    if (stroke.finish_s !== null) found.push({ event: "finish", clip_s: stroke.finish_s, stroke });
  }
  const last = desk.state?.technique?.strokes.at(-1);
  if (last && last.next_catch_s !== null) {
    found.push({ event: "catch", clip_s: last.next_catch_s, stroke: last });
  }
  return found.sort((a, b) => a.clip_s - b.clip_s);
}

/**
 * Catch and finish of a stroke that begins at a clip time; null where one is under way or another
 * follows too soon. Its finish is the one seen next, else a usual drive away.
 */
export function roomForStroke(clip_s) {
  const drives = (desk.state.technique?.strokes ?? [])
    .filter((s) => s.catch_s !== null && s.finish_s !== null)
    .map((s) => s.finish_s - s.catch_s).sort((a, b) => a - b);
  const usual_s = drives[drives.length >> 1] ?? 1;
  const next = events().find((e) => e.clip_s > clip_s + usual_s / 10);
  if (next?.event === "finish") {
    return next.stroke.catch_s === null ? { catch_s: clip_s, finish_s: next.clip_s } : null;
  }
  const room_s = (next?.clip_s ?? desk.talk.clip.duration_s) - clip_s;
  return room_s < usual_s ? null : { catch_s: clip_s, finish_s: clip_s + Math.min(usual_s, room_s * 0.9) };
}

/** When the axis passes a catch or finish: [{event, time_s}], in order. */
export function eventsOn(axis) {
  const known = events();
  if (axis === "clip") return known.map((e) => ({ event: e.event, time_s: e.clip_s }));
  if (!rows) return [];
  const found = [];
  for (let row = 1; row < rows.clip_s.length; row += 1) {
    const [a, b] = [rows.clip_s[row - 1], rows.clip_s[row]];
    if (a === b || Number.isNaN(a) || Number.isNaN(b) || Math.abs(b - a) > 0.5) continue;
    for (const { event, clip_s } of known) {
      if ((a < clip_s && clip_s <= b) || (b <= clip_s && clip_s < a)) {
        found.push({ event, time_s: fromRecording(axis, rows.recording_s[row]) });
      }
    }
  }
  return found.filter((e) => !Number.isNaN(e.time_s)).sort((a, b) => a.time_s - b.time_s);
}
