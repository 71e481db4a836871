// Making the episode: the button in the bar, with what is going on.

import { desk, make } from "./api.js";
import { $, fill, h } from "./dom.js";

export function drawMake() {
  const { state, label, share, error } = desk.make;
  const busy = state === "working" || state === "stopping";
  const percent = share === null || share === undefined ? null : Math.round(share * 100);
  let word = desk.state?.stale ? "Edits not in the episode yet" : "The episode is up to date";
  if (state === "failed") word = error;
  else if (state === "stopped") word = "Stopped; what was done is kept";
  else if (busy) word = state === "stopping" ? "Stopping …" : [label, percent === null ? "" : `${percent} %`].join(" ");
  fill($("make"),
    h("span", { class: `makeword${state === "failed" ? " trouble" : ""}`, role: "status", title: word }, word),
    busy && h("progress", { "aria-label": "Progress", max: 100, value: percent ?? undefined }),
    busy
      ? h("button", { type: "button", class: "quiet", "data-key": "make", onclick: () => make("cancel") }, "Cancel")
      : h("button", { type: "button", class: "main", "data-key": "make", onclick: () => make("start") }, "Make episode"),
  );
}
