// The desk: starts the parts and keeps them in step.

import { desk, listen, load, on, toast, travel } from "./api.js";
import { unpackBody, unpackClocks } from "./clocks.js";
import { $ } from "./dom.js";
import { placeJoints, startJoints } from "./joints.js";
import { drawLanes, fitRange, moveCursor, startLanes } from "./lanes.js";
import { drawMake } from "./make.js";
import { drawOverlay } from "./overlay.js";
import { drawPanel, startPanels } from "./panels.js";
import { player, refreshPlayer, reloadProgram, startPlayer } from "./player.js";

function frame() {
  drawOverlay();
  placeJoints();
  moveCursor();
}

function heading() {
  const { title, series, club, athlete } = desk.state.settings;
  $("title").textContent = title || "Untitled episode";
  $("subtitle").textContent = [series, club, athlete.alias].filter(Boolean).join(" · ");
  document.title = `${title || "Episode"} – Launchside desk`;
  for (const name of ["undo", "redo"]) {
    const label = desk.state[name];
    $(name).disabled = !label;
    $(name).title = label ? `${name === "undo" ? "Undo" : "Redo"}: ${label}` : "";
  }
}

function changed(what) {
  if (what === "talk") unpackClocks();
  if (what === "body") unpackBody();
  if (what === "state") {
    heading();
    refreshPlayer();
    drawLanes();
    frame();
    drawPanel();
    drawMake();
  }
  if (what === "make") drawMake();
  if (what === "made") {
    reloadProgram();
    drawMake();
  }
}

function undoKeys(event) {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
  if (event.target.closest("textarea, input:not([type=checkbox])")) return;
  event.preventDefault();
  travel(event.shiftKey ? "redo" : "undo");
}

async function start() {
  startPlayer();
  startJoints();
  startLanes();
  startPanels();
  on(changed);
  player.moved.push(frame);
  player.switched.push(fitRange, drawPanel);
  new ResizeObserver(frame).observe($("picture"));
  $("undo").addEventListener("click", () => travel("undo"));
  $("redo").addEventListener("click", () => travel("redo"));
  for (const id of ["overlays", "captions", "movejoints"]) $(id).addEventListener("change", frame);
  document.addEventListener("keydown", undoKeys);
  await load();
  listen();
  performance.mark("ready");
  document.body.dataset.ready = "1";
}

start().catch((error) => toast(`The desk could not be opened: ${error.message}`, true));
