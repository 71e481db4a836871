// Making the episode: the button in the bar, with what is going on.

import { desk, make } from "./api.js";
import { $, fill, h, quiet } from "./dom.js";

/** What is going on, in a few words. */
function word({ state, label, share, error }) {
  if (state === "failed") return error;
  if (state === "stopping") return "Stopping …";
  if (state === "stopped") return "Stopped; what was done is kept";
  if (state === "working") return share === null ? label : `${label} ${Math.round(100 * share)} %`;
  return desk.state?.stale ? "Edits not in the episode yet" : "The episode is up to date";
}

export function drawMake() {
  const { state, share } = desk.make;
  const busy = state === "working" || state === "stopping";
  const said = word(desk.make);
  fill($("make"),
    h("span", { class: state === "failed" ? "makeword trouble" : "makeword", role: "status", title: said }, said),
    busy && h("progress", { "aria-label": "Progress", max: 100, value: share === null ? undefined : 100 * share }),
    busy ? quiet("Cancel", () => make("cancel"), { "data-key": "make" })
      : quiet("Make episode", () => make("start"), { class: "main", "data-key": "make" }));
}
