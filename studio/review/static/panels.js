// The panels at the side: tabs, and which of them is open.

import { desk } from "./api.js";
import { $, fill, h } from "./dom.js";
import { athlete } from "./panel_athlete.js";
import { captions } from "./panel_captions.js";
import { chapters } from "./panel_chapters.js";
import { finish } from "./panel_finish.js";
import { look } from "./panel_look.js";
import { points } from "./panel_points.js";
import { technique } from "./panel_technique.js";

const PANELS = {
  look: { label: "Check", draw: look },
  technique: { label: "Technique", draw: technique },
  captions: { label: "Captions", draw: captions },
  chapters: { label: "Chapters", draw: chapters },
  points: { label: "Points", draw: points },
  athlete: { label: "Athlete", draw: athlete },
  finish: { label: "Publish", draw: finish },
};
let open = "look";

/** Open a panel, and bring one thing in it to the eye. */
export function openPanel(name, key = "") {
  open = name;
  drawPanel();
  $("panel").scrollTop = 0;
  if (!key) return;
  const found = $("panel").querySelector(`[data-item="${CSS.escape(key)}"]`);
  if (!found) return;
  const panel = $("panel");
  if (panel.scrollHeight > panel.clientHeight) panel.scrollTop = found.offsetTop - panel.clientHeight / 3;
  else found.scrollIntoView({ block: "center" }); // one long page on a narrow screen
  found.classList.add("pointed");
  setTimeout(() => found.classList.remove("pointed"), 2500);
}

export function drawPanel() {
  if (!desk.state) return;
  const count = desk.state.attention.length;
  for (const tab of $("tabs").children) {
    const chosen = tab.dataset.panel === open;
    tab.setAttribute("aria-selected", String(chosen));
    tab.tabIndex = chosen ? 0 : -1;
    if (tab.dataset.panel === "look") {
      fill(tab, PANELS.look.label, count ? h("span", { class: "count" }, count) : null);
    }
  }
  $("panel").setAttribute("aria-labelledby", `tab-${open}`);
  fill($("panel"), PANELS[open].draw());
}

function pressed(event) {
  const names = Object.keys(PANELS);
  const way = { ArrowLeft: -1, ArrowRight: 1, Home: -names.length, End: names.length }[event.key];
  if (!way) return;
  event.preventDefault();
  const at = Math.min(names.length - 1, Math.max(0, names.indexOf(open) + way));
  openPanel(names[at]);
  $(`tab-${names[at]}`).focus();
}

export function startPanels() {
  fill($("tabs"), Object.entries(PANELS).map(([name, { label }]) => h("button", {
    type: "button", role: "tab", id: `tab-${name}`, "data-panel": name, "aria-controls": "panel",
    onclick: () => openPanel(name), onkeydown: pressed,
  }, label)));
}
