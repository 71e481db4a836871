// Dragging a point of the body on a held frame. Ten small buttons over the picture.

import { edit } from "./api.js";
import { bodyFrame, bodyTrack, clipAt } from "./clocks.js";
import { $, h } from "./dom.js";
import { clipMap, point } from "./overlay.js";
import { paused, player } from "./player.js";

const NAMES = ["shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe", "ear", "handle"];
const box = $("joints");
let frame = -1;
let dragged = null;

const place = (button, [x, y]) => {
  const known = Number.isFinite(x) && Number.isFinite(y);
  button.hidden = !known;
  if (known) button.style.transform = `translate(${x}px, ${y}px)`;
};

/** Show the points where they are, when they may be moved: paused, clip on screen, box ticked. */
export function placeJoints() {
  const track = bodyTrack();
  const allowed = $("movejoints").checked && paused() && player.axis !== "program" && track;
  const map = allowed ? clipMap() : null;
  frame = map ? bodyFrame(clipAt(player.axis, player.time_s)) : -1;
  box.hidden = frame < 0;
  if (box.hidden || dragged) return;
  for (const button of box.children) place(button, map.to(...point(track, button.dataset.joint, frame)));
}

const save = (joint, [x_px, y_px]) => edit("move_joint",
  { clip_s: bodyTrack().time_s[frame], joint, x_px, y_px }, `joint:${joint}:${frame}`);

function down(event) {
  const button = event.currentTarget;
  button.setPointerCapture(event.pointerId);
  dragged = button;
  event.preventDefault();
  button.focus({ preventScroll: true });
}

function move(event) {
  if (dragged !== event.currentTarget) return;
  const edge = $("picture").getBoundingClientRect();
  place(dragged, [event.clientX - edge.left, event.clientY - edge.top]);
  dragged.dataset.moved = "1";
}

async function up(event) {
  if (dragged !== event.currentTarget) return;
  const edge = $("picture").getBoundingClientRect();
  const to = clipMap()?.from(event.clientX - edge.left, event.clientY - edge.top);
  const moved = dragged.dataset.moved;
  delete dragged.dataset.moved;
  const { joint } = dragged.dataset;
  if (moved && to) await save(joint, to);
  dragged = null;
  placeJoints();
}

function pressed(event) {
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (!way || frame < 0) return;
  event.preventDefault();
  const by = event.shiftKey ? 10 : 1;
  const [x, y] = point(bodyTrack(), event.currentTarget.dataset.joint, frame);
  save(event.currentTarget.dataset.joint, [x + by * way[0], y + by * way[1]]);
}

export function startJoints() {
  box.append(...NAMES.map((joint) => h("button", {
    type: "button", class: "joint", "data-joint": joint, "data-moves": true, title: joint,
    "aria-label": `${joint}: drag, or move with the arrow keys`, onpointerdown: down,
    onpointermove: move, onpointerup: up, onkeydown: pressed,
  })));
}
