// Strokes, measures and findings.

import { desk, edit } from "./api.js";
import { clock, h, link, note, quiet, unseen } from "./dom.js";
import { player, show } from "./player.js";

const UNITS = { deg: "°", ratio: "", s: " s", spm: " spm", cm: " cm" };

/** A value of a measure in its own unit. */
function amount(measure, value = measure.value) {
  if (value === null) return "–";
  if (measure.unit === "share") return `${(100 * value).toFixed(0)} %`;
  const digits = ["deg", "spm"].includes(measure.unit) ? 0 : 2;
  return `${value.toFixed(digits)}${UNITS[measure.unit]}`;
}

const toClip = (clip_s, name, text = clock(clip_s, 2)) => link(text, () => show("clip", clip_s),
  { "aria-label": `${name} at ${clock(clip_s, 2)}` });

const heads = (...texts) => h("thead", {}, h("tr", {}, texts.map((t) => h("th", { scope: "col" }, t))));

function stroke(s) {
  const none = () => edit("wrong_stroke", { catch_s: s.catch_s, wrong: true });
  const turn = (time_s, name) => h("td", {}, time_s === null ? "–" : toClip(time_s, name));
  return h("tr", { "data-item": `stroke:${s.index}` },
    h("th", { scope: "row" }, `${s.index + 1}${s.complete ? "" : " (part)"}`),
    turn(s.catch_s, "catch"),
    turn(s.finish_s, "finish"),
    h("td", {}, `${Math.round(100 * s.confidence)} %`),
    h("td", {}, s.catch_s !== null && quiet("No stroke", none, {
      "data-key": `wrong:${s.index}`, "aria-label": `Stroke ${s.index + 1} is no stroke`,
    })));
}

const wrongs = () => desk.state.wrong_strokes.map((catch_s) => h("p", { class: "struck" },
  `No stroke at ${clock(catch_s, 2)}. `,
  link("Put it back", () => edit("wrong_stroke", { catch_s, wrong: false }))));

const measure = (m) => h("tr", { "data-measure": m.name },
  h("th", { scope: "row" }, m.label, m.strokes > 1
    && h("small", { class: "each" }, m.per_stroke.map((v) => amount(m, v)).join(" · "))),
  h("td", {}, amount(m)),
  h("td", {}, amount(m, m.spread)));

function withheld(all) {
  const hidden = all.filter((m) => m.value === null && m.reason);
  return hidden.length > 0 && h("details", {},
    h("summary", {}, `${hidden.length} withheld`),
    h("ul", {}, hidden.map((m) => h("li", {}, `${m.label}: ${m.reason}`))));
}

/** Accept and reject, as a pair of toggles; a second press leaves it open again. */
export function verdict(key, now, name, set) {
  const one = (word, label) => quiet(label, () => set(now === word ? "" : word), {
    "data-key": `${key}:${word}`, "aria-pressed": String(now === word), "aria-label": `${label}: ${name}`,
  });
  return h("span", { class: "verdict" }, one("accept", "Accept"), one("reject", "Reject"));
}

function finding(f) {
  const rejected = f.verdict === "reject";
  const judge = (v) => edit("judge_finding", { code: f.code, verdict: v });
  const further = f.shown || rejected ? "" : " · further";
  return h("li", {
    class: `card ${f.kind}${rejected ? " rejected" : ""}`, "data-item": `finding:${f.code}`,
  },
  h("p", { class: "kind" }, h("b", {}, f.kind), f.phase ? ` · ${f.phase}` : "", further),
  h("p", {}, f.text),
  h("p", { class: "cue" }, f.coaching_cue),
  f.caution && note(f.caution),
  h("p", { class: "foot" },
    f.evidence_s.slice(0, 3).map((t) => toClip(t, "Evidence", clock(t, 1))),
    h("span", { class: "note", title: f.source }, f.source),
    verdict(`finding:${f.code}`, f.verdict, f.text, judge)));
}

function moved() {
  const points = desk.state.moved_joints;
  return points.length > 0 && h("details", {},
    h("summary", {}, `${points.length} points moved by hand`),
    h("ul", {}, points.map(({ joint, clip_s }) => h("li", {},
      toClip(clip_s, joint, `${joint} at ${clock(clip_s, 2)}`), " ",
      link("put back", () => edit("reset_joint", { clip_s, joint }),
        { "aria-label": `Put the ${joint} back` })))));
}

export function technique() {
  const found = desk.state.technique;
  if (!found) return [h("h2", {}, "Technique"), note("No clip was analysed yet.")];
  return [
    h("h2", {}, "Strokes"),
    note(player.axis === "clip" ? "Drag ▲ and ▼ under the video to move a catch or finish; + Add there adds a stroke that was missed."
      : "Open the clip to move a catch or finish, or to add a stroke."),
    h("table", { class: "plain" },
      heads("Stroke", "Catch", "Finish", "Sure", unseen("Wrong")),
      h("tbody", {}, found.strokes.map(stroke))),
    wrongs(), moved(), found.notices.map((n) => note(n)),
    h("h2", {}, "Findings"),
    h("ul", { class: "cards" }, found.findings.map(finding)),
    h("h2", {}, "Measures"),
    h("table", { class: "plain measures" },
      heads("Measure, stroke by stroke", "Median", "±"),
      h("tbody", {}, found.measures.filter((m) => m.value !== null).map(measure))),
    withheld(found.measures),
  ];
}
