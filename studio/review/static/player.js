// The video: which one, where it stands, and the keys that move it.

import { desk } from "./api.js";
import { clipAt, eventsOn, fromRecording, recordingAtClip, recordingRows, rowAt, toRecording } from "./clocks.js";
import { $, clock, fill, h } from "./dom.js";

const VIEWS = { program: "Episode", recording: "Recording", clip: "Clip" };
const SPEEDS = [0.1, 0.25, 0.5, 1, 1.5, 2];
const video = $("video");

/** `axis` is the clock of the video on show; `time_s` that of the frame on screen. */
export const player = { axis: null, time_s: 0, moved: [], switched: [] };
let wanted = null; // where to go once the picture is there
let moves = [];

export const duration = () => {
  if (player.axis === "program") return desk.state.program?.duration_s ?? 0;
  return desk.talk[player.axis]?.duration_s ?? (video.duration || 0);
};

const available = () => Object.keys(VIEWS).filter((name) => (name === "program"
  ? desk.state.outputs.some((o) => o.name === "episode.mp4") : desk.talk[name]));

function frameRate() {
  if (player.axis === "program") return desk.state.program?.frame_rate || 30;
  return desk.talk[player.axis]?.frame_rate || 30;
}

/** The middle of the frame that covers a time, so that no rounding shows its neighbour. */
function middle(time_s) {
  const times = player.axis === "recording" ? recordingRows()?.recording_s : null;
  if (times) {
    const row = Math.max(0, rowAt(time_s));
    const next = row + 1 < times.length ? times[row + 1] : times[row] + 1 / frameRate();
    return (times[row] + next) / 2;
  }
  const rate = frameRate();
  return (Math.floor(time_s * rate + 1e-3) + 0.5) / rate;
}

export function seek(time_s) {
  const to = Math.min(Math.max(0, time_s), Math.max(0, duration() - 1e-3));
  player.time_s = to;
  if (video.readyState) video.currentTime = middle(to);
  else wanted = to;
  player.moved.forEach((listener) => listener());
}

/** Show a moment of "clip" or "recording", on the view that shows it best. */
export function show(clockName, time_s, keepView = false) {
  video.pause();
  if (clockName === "clip" && !(keepView && player.axis !== "clip")) {
    open("clip", time_s);
  } else if (clockName === "clip") {
    const at = fromRecording(player.axis, recordingAtClip(time_s, toRecording(player.axis, player.time_s)));
    if (Number.isNaN(at)) open("clip", time_s);
    else seek(at);
  } else {
    const axis = player.axis === "clip" ? "recording" : player.axis;
    const at = fromRecording(axis, time_s);
    if (Number.isNaN(at)) open("recording", time_s);
    else open(axis, at);
  }
}

/** Switch to a view; without a time, to the same moment as seen there. */
export function open(axis, time_s = null) {
  if (axis === player.axis) {
    if (time_s !== null) seek(time_s);
    return;
  }
  let to = time_s ?? 0;
  if (time_s === null && player.axis) {
    const recording_s = toRecording(player.axis, player.time_s);
    to = axis === "clip" ? clipAt(player.axis, player.time_s)
      : fromRecording(axis, player.axis === "clip" ? recordingAtClip(player.time_s) : recording_s);
  }
  player.axis = axis;
  wanted = Number.isNaN(to) ? 0 : to;
  player.time_s = wanted;
  load();
  player.switched.forEach((listener) => listener());
}

function load() {
  const made = desk.state.outputs.find((o) => o.name === "episode.mp4");
  const version = player.axis === "program" ? `?v=${made?.size}` : "";
  video.src = `/media/${player.axis}${version}`;
  video.playbackRate = speed();
  buttons();
}

const speed = () => Number($("speed")?.value ?? 1);

export const paused = () => video.paused;

export function toggle() {
  if (video.paused) video.play().catch(() => {});
  else video.pause();
}

export function step(frames) {
  video.pause();
  const times = player.axis === "recording" ? recordingRows()?.recording_s : null;
  if (times) {
    const row = Math.min(times.length - 1, Math.max(0, rowAt(player.time_s) + frames));
    seek(times[row] + 1e-3);
  } else {
    const rate = frameRate();
    seek((Math.floor(player.time_s * rate + 0.01) + frames) / rate + 1e-3);
  }
}

/** To the next (or, with -1, the last) catch or finish. */
export function toEvent(event, direction) {
  video.pause();
  moves = eventsOn(player.axis).filter((e) => !event || e.event === event).map((e) => e.time_s);
  const slack = 0.6 / frameRate();
  const to = direction > 0 ? moves.find((t) => t > player.time_s + slack)
    : moves.findLast((t) => t < player.time_s - slack);
  if (to !== undefined) seek(to);
}

function faster(direction) {
  const at = SPEEDS.indexOf(speed());
  $("speed").value = SPEEDS[Math.min(SPEEDS.length - 1, Math.max(0, at + direction))];
  video.playbackRate = speed();
}

function buttons() {
  const views = available();
  fill($("views"), views.map((name) => h("button", {
    type: "button", "data-key": `view-${name}`, "aria-pressed": String(name === player.axis),
    onclick: () => open(name),
  }, VIEWS[name])));
  const nothing = !views.length;
  $("nopicture").hidden = !nothing;
  $("nopicture").textContent = nothing ? "No picture yet. Make the episode first." : "";
}

const button = (label, keys, onclick, text, id) => h("button", {
  type: "button", id, "aria-label": label, title: `${label} (${keys})`, onclick,
}, text);

function transport() {
  const toggleBox = (id, text, checked) => h("label", { class: "check" },
    h("input", { type: "checkbox", id, checked }), text);
  $("transport").append(
    button("Play or pause", "space", toggle, "▶", "play"),
    button("One frame back", "←", () => step(-1), "◂|"),
    button("One frame on", "→", () => step(1), "|▸"),
    button("Last catch", "shift C", () => toEvent("catch", -1), "‹ catch"),
    button("Next catch", "C", () => toEvent("catch", 1), "catch ›"),
    button("Last finish", "shift F", () => toEvent("finish", -1), "‹ finish"),
    button("Next finish", "F", () => toEvent("finish", 1), "finish ›"),
    h("label", { class: "speed" }, h("span", { class: "unseen" }, "Speed"),
      h("select", { id: "speed", title: "Speed (- and +)", onchange: () => { video.playbackRate = speed(); } },
        SPEEDS.map((s) => h("option", { value: s, selected: s === 1 }, `${s} ×`)))),
    h("output", { id: "time", "aria-label": "Time" }),
    h("span", { class: "room" }),
    button("Keys", "?", () => $("keys").showModal(), "?"),
  );
  $("chips").append(
    toggleBox("overlays", "Angles", true),
    toggleBox("captions", "Captions", true),
    toggleBox("movejoints", "Move points", false),
  );
}

const KEYS = [
  ["Space or K", "play or pause"], ["← →", "one frame"], ["Shift ← →", "one second"],
  ["C / Shift C", "next / last catch"], ["F / Shift F", "next / last finish"],
  ["A", "on the clip: add a stroke that was missed, its catch here"], ["- + 1", "slower, faster, as filmed"], ["Ctrl Z / Ctrl Shift Z", "undo / redo"],
  ["Tab, then ← →", "on a catch, finish, chapter, hold or point of the body: move it"],
];

function keysDialog() {
  $("keys").append(
    h("h2", { id: "keystitle" }, "Keys"),
    h("dl", {}, KEYS.map(([key, what]) => [h("dt", {}, key), h("dd", {}, what)])),
    h("form", { method: "dialog" }, h("button", {}, "Close")),
  );
}

const ACTIONS = {
  k: toggle, c: () => toEvent("catch", 1), C: () => toEvent("catch", -1),
  f: () => toEvent("finish", 1), F: () => toEvent("finish", -1),
  a: () => $("addstroke")?.click(),
  "-": () => faster(-1), "+": () => faster(1), "=": () => faster(1),
  1: () => { $("speed").value = 1; video.playbackRate = 1; }, "?": () => $("keys").showModal(),
};

function pressed(event) {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = event.target;
  if (at.closest("input:not([type=checkbox]), textarea, select, dialog")) return;
  const onControl = at.closest("button, a, input, [role=tab], label");
  let act = ACTIONS[event.key];
  if (event.key === " " && !onControl) act = toggle;
  if (event.key.startsWith("Arrow") && !at.closest("[role=tab], [data-moves]")) {
    const way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (way) act = event.shiftKey ? () => seek(player.time_s + way) : () => step(way);
  }
  if (!act) return;
  event.preventDefault();
  act();
}

/** Told of every frame that is really on screen, with its own time. */
function follow() {
  if (!video.requestVideoFrameCallback) { // an old browser: near enough, not frame by frame
    const near = () => {
      if (video.readyState && player.time_s !== video.currentTime) {
        player.time_s = video.currentTime;
        player.moved.forEach((listener) => listener());
      }
      requestAnimationFrame(near);
    };
    near();
    return;
  }
  const shown = (_, frame) => {
    // A frame from before a jump that comes late must not undo the jump.
    const stale = video.seeking && Math.abs(frame.mediaTime - video.currentTime) > 1 / frameRate();
    if (!stale) {
      player.time_s = frame.mediaTime;
      player.moved.forEach((listener) => listener());
    }
    video.requestVideoFrameCallback(shown);
  };
  video.requestVideoFrameCallback(shown);
}

export function startPlayer() {
  transport();
  keysDialog();
  video.addEventListener("loadedmetadata", () => {
    if (wanted !== null) video.currentTime = middle(wanted);
    wanted = null;
    video.playbackRate = speed();
  });
  const glyph = () => { $("play").textContent = video.paused ? "▶" : "❚❚"; };
  for (const name of ["play", "pause", "ended"]) video.addEventListener(name, glyph);
  video.addEventListener("pause", () => player.moved.forEach((listener) => listener()));
  video.addEventListener("click", toggle);
  document.addEventListener("keydown", pressed);
  player.moved.push(() => { $("time").textContent = clock(player.time_s, 2); });
  follow();
}

/** After loading or a make: keep the view, or choose the best there is. */
export function refreshPlayer() {
  const views = available();
  if (!views.length) {
    buttons();
  } else if (!views.includes(player.axis)) {
    open(views.includes("recording") ? "recording" : views[0], 0);
  } else {
    buttons();
  }
}

/** After a make the episode is another file. */
export function reloadProgram() {
  if (player.axis !== "program") return;
  wanted = player.time_s;
  load();
}
