// Strokes, measures and findings.

import { desk, edit } from "./api.js";
import { clock, h } from "./dom.js";
import { player, show } from "./player.js";

const UNITS = { deg: "°", share: "", ratio: "", s: " s", spm: " spm", cm: " cm" };

export function amount(measure, value = measure.value) {
  if (value === null) return "–";
  if (measure.unit === "share") return `${(100 * value).toFixed(0)} %`;
  const digits = ["deg", "spm"].includes(measure.unit) ? 0 : 2;
  return `${value.toFixed(digits)}${UNITS[measure.unit]}`;
}

const moment = (time_s, event) => (time_s === null ? h("td", {}, "–") : h("td", {},
  h("button", { type: "button", class: "link", "aria-label": `${event} at ${clock(time_s, 2)}`, onclick: () => show("clip", time_s) }, clock(time_s, 2))));

function strokes({ strokes: all }) {
  return h("table", { class: "plain" },
    h("thead", {}, h("tr", {}, ["Stroke", "Catch", "Finish", "Sure", ""].map((t) => h("th", { scope: "col" }, t || h("span", { class: "unseen" }, "Wrong"))))),
    h("tbody", {}, all.map((s) => h("tr", { "data-item": `stroke:${s.index}` },
      h("th", { scope: "row" }, `${s.index + 1}${s.complete ? "" : " (part)"}`),
      moment(s.catch_s, "catch"), moment(s.finish_s, "finish"),
      h("td", {}, `${Math.round(100 * s.confidence)} %`),
      h("td", {}, s.catch_s !== null && h("button", {
        type: "button", class: "quiet", "data-key": `wrong:${s.index}`, "aria-label": `Stroke ${s.index + 1} is no stroke`,
        onclick: () => edit("wrong_stroke", { catch_s: s.catch_s, wrong: true }),
      }, "No stroke"))))));
}

function wrongs() {
  return desk.state.wrong_strokes.map((catch_s) => h("p", { class: "struck" },
    `No stroke at ${clock(catch_s, 2)}. `,
    h("button", { type: "button", class: "link", onclick: () => edit("wrong_stroke", { catch_s, wrong: false }) }, "Put it back")));
}

function measures(all) {
  return h("table", { class: "plain measures" },
    h("thead", {}, h("tr", {}, ["Measure", "Median", "± strokes"].map((t) => h("th", { scope: "col" }, t)))),
    h("tbody", {}, all.filter((m) => m.value !== null).map((m) => h("tr", { "data-measure": m.name },
      h("th", { scope: "row" }, m.label, m.strokes > 1 && h("small", { class: "each" }, m.per_stroke.map((v) => (v === null ? "–" : amount(m, v))).join(" · "))),
      h("td", {}, amount(m)),
      h("td", {}, m.spread === null ? "–" : amount(m, m.spread))))));
}

function withheld(all) {
  const hidden = all.filter((m) => m.value === null && m.reason);
  return hidden.length > 0 && h("details", {}, h("summary", {}, `${hidden.length} withheld`),
    h("ul", {}, hidden.map((m) => h("li", {}, `${m.label}: ${m.reason}`))));
}

/** Accept and reject, as a pair of toggles. */
export function verdict(key, now, name, set) {
  const one = (word, label) => h("button", {
    type: "button", class: "quiet", "data-key": `${key}:${word}`, "aria-pressed": String(now === word),
    "aria-label": `${label}: ${name}`, onclick: () => set(now === word ? "" : word),
  }, label);
  return h("span", { class: "verdict" }, one("accept", "Accept"), one("reject", "Reject"));
}

function finding(f) {
  const out = f.verdict === "reject";
  return h("li", { class: `card ${f.kind}${out ? " rejected" : ""}`, "data-item": `finding:${f.code}` },
    h("p", { class: "kind" }, h("b", {}, f.kind), f.phase ? ` · ${f.phase}` : "", f.shown || out ? "" : " · further"),
    h("p", {}, f.text),
    h("p", { class: "cue" }, f.coaching_cue),
    f.caution && h("p", { class: "note" }, f.caution),
    h("p", { class: "foot" },
      f.evidence_s.slice(0, 3).map((t) => h("button", { type: "button", class: "link", "aria-label": `Evidence at ${clock(t, 2)}`, onclick: () => show("clip", t) }, clock(t, 1))),
      h("span", { class: "note", title: f.source }, f.source),
      verdict(`finding:${f.code}`, f.verdict, f.text, (v) => edit("judge_finding", { code: f.code, verdict: v }))));
}

function moved() {
  const here = desk.state.moved_joints;
  return here.length > 0 && h("details", {}, h("summary", {}, `${here.length} points moved by hand`),
    h("ul", {}, here.map((j) => h("li", {},
      h("button", { type: "button", class: "link", onclick: () => show("clip", j.clip_s) }, `${j.joint} at ${clock(j.clip_s, 2)}`), " ",
      h("button", { type: "button", class: "link", "aria-label": `Put the ${j.joint} back`, onclick: () => edit("reset_joint", { clip_s: j.clip_s, joint: j.joint }) }, "put back")))));
}

export function technique() {
  const found = desk.state.technique;
  if (!found) return [h("h2", {}, "Technique"), h("p", { class: "note" }, "No clip was analysed yet.")];
  return [
    h("h2", {}, "Strokes"),
    h("p", { class: "note" }, player.axis === "clip" ? "Drag ▲ and ▼ under the video to move a catch or finish."
      : "Open the clip to move a catch or finish."),
    strokes(found), wrongs(), moved(),
    found.notices.map((n) => h("p", { class: "note" }, n)),
    h("h2", {}, "Findings"),
    h("ul", { class: "cards" }, found.findings.map(finding)),
    h("h2", {}, "Measures"),
    measures(found.measures), withheld(found.measures),
  ];
}
