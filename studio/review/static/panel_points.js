// Talking points, as heard in the recording.

import { desk, edit } from "./api.js";
import { clock, h, link, note } from "./dom.js";
import { verdict } from "./panel_technique.js";
import { show } from "./player.js";

const KINDS = { keep: "keep", change: "change", coaching_cue: "coaching cue", drill: "drill" };

/** What the clip says to it, where it says anything. */
function evidence(p) {
  const measure = desk.state.technique?.measures.find((m) => m.name === p.measure);
  if (!measure || p.agrees === null) return null;
  if (p.agrees) return note(`The clip agrees: ${measure.label}.`);
  return h("p", { class: "note odd" }, `The clip measures otherwise: ${measure.label}.`);
}

function point(p) {
  const judge = (v) => edit("judge_point", { kind: p.kind, recording_s: p.start_s, verdict: v });
  const rejected = p.verdict === "reject" ? " rejected" : "";
  return h("li", { class: `card ${p.kind}${rejected}`, "data-item": `point:${p.start_s.toFixed(3)}` },
    h("p", { class: "kind" },
      h("b", {}, KINDS[p.kind]), [p.phase, p.topic].filter(Boolean).map((t) => ` · ${t}`)),
    h("p", {}, p.text),
    evidence(p),
    h("p", { class: "foot" },
      link(clock(p.start_s), () => show("recording", p.start_s),
        { "aria-label": `Hear it at ${clock(p.start_s)}` }),
      h("span", { class: "room" }),
      verdict(`point:${p.kind}:${p.start_s}`, p.verdict, p.text, judge)));
}

export function points() {
  const all = desk.state.points;
  return [
    h("h2", {}, "Talking points"),
    note(all.length ? "What you said, and whether the clip bears it out. Rejected ones stay out of "
      + "the summary and the drawings." : "No talking points were heard yet."),
    h("ul", { class: "cards" }, all.map(point)),
  ];
}
