// What deserves a look: one line each, a click away from the moment and the panel that mends it.

import { desk } from "./api.js";
import { clock, h, note, quiet } from "./dom.js";
import { seekCaption } from "./panel_captions.js";
import { drawPanel, openPanel } from "./panels.js";
import { show } from "./player.js";

const FIRST = 8;
const SUBJECTS = {
  technique: "Technique", captions: "Words", chapters: "Chapters", points: "Points",
  athlete: "Athlete", look: "Episode",
};
let all = false;

function go(item) {
  if (item.clock) show(item.clock, item.time_s);
  if (item.panel === "captions" && item.key.startsWith("cue:")) seekCaption(item.time_s);
  else if (item.panel !== "look") openPanel(item.panel, item.key);
}

const row = (item, k) => h("li", {},
  h("button", { type: "button", class: "lookat", "data-key": `look:${k}`, onclick: () => go(item) },
    h("span", { class: "what" }, SUBJECTS[item.panel]),
    h("span", { class: "text" }, item.text),
    item.clock && h("span", { class: "when" }, `${item.clock} ${clock(item.time_s, 1)}`)));

export function look() {
  const items = desk.state.attention;
  if (!desk.state.technique && !desk.state.chapters.length) {
    return [h("h2", {}, "Nothing made yet"), note(
      "Press “Make episode”. When it is done, this list says what deserves a look.")];
  }
  if (!items.length) {
    return [h("h2", {}, "Nothing stands out"), note(
      "Everything was seen and heard with confidence. Skim the captions and chapters, then publish.")];
  }
  const shown = all ? items : items.slice(0, FIRST);
  return [
    h("h2", {}, "What deserves a look"),
    note("Unsure or contradictory, the weightiest first. Each opens the moment and the place to "
      + "mend it."),
    h("ol", { class: "looklist" }, shown.map(row)),
    items.length > FIRST && quiet(all ? "Show the first only" : `Show ${items.length - FIRST} more`,
      () => { all = !all; drawPanel(); }, { "data-key": "lookall" }),
  ];
}
