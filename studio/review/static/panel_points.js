// Talking points, as heard in the recording.

import { desk, edit } from "./api.js";
import { clock, h } from "./dom.js";
import { verdict } from "./panel_technique.js";
import { show } from "./player.js";

const KINDS = { keep: "keep", change: "change", coaching_cue: "coaching cue", drill: "drill" };

function evidence(p) {
  const measure = desk.state.technique?.measures.find((m) => m.name === p.measure);
  if (!measure || p.agrees === null) return null;
  return h("p", { class: p.agrees ? "note" : "note odd" },
    p.agrees ? `The clip agrees: ${measure.label}.` : `The clip measures otherwise: ${measure.label}.`);
}

const point = (p) => h("li", {
  class: `card ${p.kind === "keep" ? "keep" : p.kind === "change" ? "change" : ""}${p.verdict === "reject" ? " rejected" : ""}`,
  "data-item": `point:${p.start_s.toFixed(3)}`,
},
h("p", { class: "kind" }, h("b", {}, KINDS[p.kind]), [p.phase, p.topic].filter(Boolean).map((t) => ` · ${t}`).join("")),
h("p", {}, p.text), evidence(p),
h("p", { class: "foot" },
  h("button", { type: "button", class: "link", "aria-label": `Hear it at ${clock(p.start_s)}`, onclick: () => show("recording", p.start_s) }, clock(p.start_s)),
  h("span", { class: "room" }),
  verdict(`point:${p.kind}:${p.start_s}`, p.verdict, p.text, (v) => edit("judge_point", { kind: p.kind, recording_s: p.start_s, verdict: v }))));

export function points() {
  const all = desk.state.points;
  return [
    h("h2", {}, "Talking points"),
    h("p", { class: "note" }, all.length ? "What you said, and whether the clip bears it out. Rejected ones stay out of the summary and the drawings."
      : "No talking points were heard yet."),
    h("ul", { class: "cards" }, all.map(point)),
  ];
}
