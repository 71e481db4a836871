// Angle curves over the axis, with the reference bands where they apply.

import { desk } from "./api.js";
import { bodyFrame, bodyTrack, clipAt, events } from "./clocks.js";
import { $, fill, h } from "./dom.js";
import { drawLanes, range, timeOf, width, xOf } from "./lanes.js";
import { player } from "./player.js";

const ANGLES = { trunk: [-60, 60], shin: [-50, 30], knee: [30, 190], elbow: [60, 190], hip: [20, 150] };
const BAND_S = 0.12; // a band holds at one moment; drawn this wide to either side, clip time
let chosen = "trunk";

function pick() {
  fill($("curvepick"), Object.keys(ANGLES).map((name) => h("button", {
    type: "button", class: "quiet", "data-key": `curve-${name}`, "aria-pressed": String(name === chosen),
    onclick: () => { chosen = name; drawLanes(); },
  }, name)));
}

function bounds(track) {
  const known = track.angles[chosen].filter(Number.isFinite);
  const [low, high] = ANGLES[chosen];
  if (!known.length) return [low, high];
  return [Math.min(low, ...known.map((v) => v - 4)), Math.max(high, ...known.map((v) => v + 4))];
}

export function curves(pen, row) {
  pick();
  const track = bodyTrack();
  if (!track) return;
  const [low, high] = bounds(track);
  const y = (degrees) => row.top + row.height - ((degrees - low) / (high - low)) * row.height;
  bands(pen, row, y);
  scale(pen, row, y, low, high);
  pen.strokeStyle = "#0072b2";
  pen.lineWidth = 1.6;
  pen.beginPath();
  let down = false;
  for (let x = 0; x <= width(); x += 1) {
    const value = angleAt(track, clipAt(player.axis, timeOf(x)));
    if (Number.isFinite(value) && down) pen.lineTo(x, y(value));
    else if (Number.isFinite(value)) pen.moveTo(x, y(value));
    down = Number.isFinite(value);
  }
  pen.stroke();
}

/** The angle at a clip time, between frames by a straight line. */
function angleAt(track, clip_s) {
  const near = bodyFrame(clip_s);
  if (near < 0) return NaN;
  const values = track.angles[chosen];
  const other = Math.min(Math.max(0, near + Math.sign(clip_s - track.time_s[near])), values.length - 1);
  if (other === near || !Number.isFinite(values[other])) return values[near];
  const share = (clip_s - track.time_s[near]) / (track.time_s[other] - track.time_s[near]);
  return values[near] + Math.min(share, 0.5) * (values[other] - values[near]);
}

function scale(pen, row, y, low, high) {
  pen.font = "10px system-ui, sans-serif";
  pen.textBaseline = "middle";
  for (let degrees = Math.ceil(low / 30) * 30; degrees < high; degrees += 30) {
    pen.fillStyle = degrees === 0 ? "#9aa4aa" : "#e8e6df";
    pen.fillRect(0, Math.round(y(degrees)), width(), 1);
    if (y(degrees) < row.top + 8 || y(degrees) > row.top + row.height - 6) continue;
    pen.fillStyle = "#5b6770";
    pen.fillText(`${degrees}°`, 3, y(degrees) - 6);
  }
}

/** Where a band's moment falls in each stroke; clip time. */
function moments(moment) {
  if (moment === "catch" || moment === "finish") {
    return events().filter((e) => e.event === moment).map((e) => e.clip_s);
  }
  return desk.state.technique.strokes.map((s) => s.events_s[moment]).filter((t) => t !== undefined);
}

function bands(pen, row, y) {
  for (const band of desk.state.technique?.bands ?? []) {
    if (band.angle !== chosen) continue;
    const times = moments(band.moment);
    const [first, last] = [row.top, row.top + row.height];
    const top = band.high === null ? first : Math.max(first, y(band.high));
    const bottom = band.low === null ? last : Math.min(last, y(band.low));
    const shade = pen.createLinearGradient(0, top, 0, bottom); // fades toward an open end
    shade.addColorStop(0, `rgba(0, 158, 115, ${band.high === null ? 0 : 0.24})`);
    shade.addColorStop(1, `rgba(0, 158, 115, ${band.low === null ? 0 : 0.24})`);
    for (const [x0, x1] of near(times)) {
      pen.fillStyle = shade;
      pen.fillRect(x0, top, x1 - x0, bottom - top);
      pen.fillStyle = "#009e73";
      if (band.high !== null) pen.fillRect(x0, top, x1 - x0, 1);
      if (band.low !== null) pen.fillRect(x0, bottom - 1, x1 - x0, 1);
    }
  }
}

/** Stretches of pixels whose clip moment is near one of `times`. */
function near(times) {
  if (player.axis === "clip") {
    return times.filter((t) => t > range.start_s - 1 && t < range.end_s + 1)
      .map((t) => [xOf(t - BAND_S), xOf(t + BAND_S)]);
  }
  const found = [];
  for (let x = 0; x < width(); x += 1) {
    const clip_s = clipAt(player.axis, timeOf(x + 0.5));
    if (!times.some((t) => Math.abs(t - clip_s) <= BAND_S)) continue;
    if (found.length && found.at(-1)[1] === x) found.at(-1)[1] = x + 1;
    else found.push([x, x + 1]);
  }
  return found;
}
