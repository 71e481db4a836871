// What is drawn over the picture, for exactly the frame on screen: body, angles, the handle's path.

import { desk } from "./api.js";
import { bodyFrame, bodyTrack, clipAt, placementAt, toRecording } from "./clocks.js";
import { $ } from "./dom.js";
import { player } from "./player.js";

const canvas = $("overlay");
const pen = canvas.getContext("2d");
const LIMBS = [["ear", "shoulder"], ["shoulder", "elbow"], ["elbow", "wrist"], ["shoulder", "hip"],
  ["hip", "knee"], ["knee", "ankle"], ["heel", "toe"]];
const TRAIL_S = 0.7;
const SHIN_MOST = 40;
export const COLOURS = { ink: "#12191e", paper: "#ffffff", angle: "#56b4e9", trail: "#f0e442" };

/** Picture size of the view on show, in its own pixels. */
export function pictureSize() {
  const video = $("video");
  const media = desk.talk?.[player.axis === "program" ? "recording" : player.axis];
  return media ? [media.width_px, media.height_px] : [video.videoWidth || 16, video.videoHeight || 9];
}

/** Where the picture lies in its box, CSS pixels: {left, top, scale}. */
export function fit() {
  const box = $("picture");
  const [width, height] = pictureSize();
  const scale = Math.min(box.clientWidth / width, box.clientHeight / height);
  return { scale, left: (box.clientWidth - width * scale) / 2, top: (box.clientHeight - height * scale) / 2 };
}

/** Clip pixels to CSS pixels of the box, and back; null when the clip is not on screen. */
export function clipMap() {
  const { scale, left, top } = fit();
  let affine = [[1, 0, 0], [0, 1, 0]];
  if (player.axis !== "clip") {
    affine = placementAt(toRecording(player.axis, player.time_s));
    if (!affine) return null;
  }
  const [[a, b, x], [c, d, y]] = affine;
  const determinant = a * d - b * c;
  return {
    to: (px, py) => [left + scale * (a * px + b * py + x), top + scale * (c * px + d * py + y)],
    from: (sx, sy) => {
      const u = (sx - left) / scale - x;
      const v = (sy - top) / scale - y;
      return [(d * u - b * v) / determinant, (a * v - c * u) / determinant];
    },
    size: scale * Math.sqrt(Math.abs(determinant)),
  };
}

function resize() {
  const box = $("picture");
  const ratio = devicePixelRatio || 1;
  const [width, height] = [box.clientWidth * ratio, box.clientHeight * ratio].map(Math.round);
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, box.clientWidth, box.clientHeight);
}

function line(points, colour, width, dash = []) {
  for (const [style, more] of [[COLOURS.ink, 2], [colour, 0]]) {
    pen.setLineDash(dash);
    pen.strokeStyle = style;
    pen.lineWidth = width + more;
    pen.beginPath();
    points.forEach(([x, y], k) => (k ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.stroke();
  }
  pen.setLineDash([]);
}

let plates = []; // of this frame, so that none covers another

function plate(text, x, y) {
  pen.font = "600 13px system-ui, sans-serif";
  const width = pen.measureText(text).width + 14;
  const box = $("picture");
  const left = Math.min(Math.max(4, x), box.clientWidth - width - 4);
  let top = Math.min(Math.max(4, y - 11), box.clientHeight - 26);
  const over = plates.find((p) => left < p.right && p.left < left + width && Math.abs(p.top - top) < 25);
  if (over) top = over.top + (top < over.top ? -25 : 25);
  plates.push({ left, right: left + width, top });
  pen.fillStyle = "rgba(18, 25, 30, .86)";
  pen.beginPath();
  pen.roundRect(left, top, width, 22, 6);
  pen.fill();
  pen.fillStyle = COLOURS.paper;
  pen.textBaseline = "middle";
  pen.fillText(text, left + 7, top + 11.5);
}

/** The fan between the plumb line and a limb, from `foot` up to `head`, with its number. */
function fan(foot, head, degrees, words) {
  if (![...foot, ...head, degrees].every(Number.isFinite)) return;
  const length = Math.hypot(head[0] - foot[0], head[1] - foot[1]);
  const radius = 0.62 * length;
  const limb = Math.atan2(head[1] - foot[1], head[0] - foot[0]);
  const up = -Math.PI / 2;
  line([foot, [foot[0], foot[1] - length * 1.08]], COLOURS.paper, 1.2, [5, 4]);
  pen.fillStyle = "rgba(86, 180, 233, .34)";
  pen.beginPath();
  pen.moveTo(...foot);
  pen.arc(...foot, radius, Math.min(up, limb), Math.max(up, limb));
  pen.fill();
  line([foot, head], COLOURS.angle, 3);
  const [x, y] = [foot[0] + radius * Math.cos((up + limb) / 2), foot[1] + radius * Math.sin((up + limb) / 2)];
  plate(`${words} ${Math.abs(degrees).toFixed(0)}°`, x + 8, y);
}

export function point(track, name, frame) {
  return [track.points[name][2 * frame], track.points[name][2 * frame + 1]];
}

function skeleton(track, frame, map) {
  const at = (name) => map.to(...point(track, name, frame));
  for (const [from, to] of LIMBS) {
    const ends = [at(from), at(to)];
    if (ends.flat().every(Number.isFinite)) line(ends, COLOURS.paper, 2);
  }
}

function trail(track, frame, map) {
  const now = track.time_s[frame];
  const points = [];
  for (let k = frame; k >= 0 && now - track.time_s[k] < TRAIL_S; k -= 1) {
    const xy = map.to(...point(track, "handle", k));
    if (xy.every(Number.isFinite)) points.push(xy);
  }
  pen.lineWidth = 3;
  pen.lineCap = "round";
  for (let k = 1; k < points.length; k += 1) {
    pen.strokeStyle = `rgba(240, 228, 66, ${0.9 * (1 - k / points.length)})`;
    pen.beginPath();
    pen.moveTo(...points[k - 1]);
    pen.lineTo(...points[k]);
    pen.stroke();
  }
}

function angles(track, frame, map) {
  const at = (name) => map.to(...point(track, name, frame));
  const trunk = track.angles.trunk[frame];
  fan(at("hip"), at("shoulder"), trunk, trunk >= 0 ? "lean" : "layback");
  const shin = track.angles.shin[frame];
  if (Math.abs(shin) > SHIN_MOST) return; // it says something about the catch only
  fan(at("ankle"), at("knee"), shin, Math.abs(shin) < 1 ? "shin" : `shin ${shin > 0 ? "past" : "short"}`);
}

/** Draw for the frame on screen; leaves its number in the canvas for tests to read. */
export function drawOverlay() {
  resize();
  const track = bodyTrack();
  const clip_s = player.axis ? clipAt(player.axis, player.time_s) : NaN;
  const frame = track ? bodyFrame(clip_s) : -1;
  canvas.dataset.frame = frame;
  canvas.dataset.time = player.time_s;
  caption();
  plates = [];
  const map = frame < 0 ? null : clipMap();
  const burnt = player.axis === "program"; // the episode carries its own drawings
  if (!map || burnt || !$("overlays").checked) return;
  trail(track, frame, map);
  skeleton(track, frame, map);
  angles(track, frame, map);
}

function caption() {
  const box = $("caption");
  const recording_ms = 1000 * toRecording(player.axis, player.time_s);
  const cue = $("captions").checked
    && (desk.state?.cues ?? []).find(([start, end]) => start <= recording_ms && recording_ms < end);
  box.hidden = !cue;
  if (cue) box.textContent = cue[2];
}
