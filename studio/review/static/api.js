// The one place that talks to the desk: loads, edits one after the other, listens.

import { $, h } from "./dom.js";

/** All the page knows; `listeners` are told what changed: "state", "body", "talk" or "make". */
export const desk = { state: null, talk: null, body: null, make: { state: "idle", notes: [] } };
const listeners = [];
export const on = (listener) => listeners.push(listener);
const tell = (what) => listeners.forEach((listener) => listener(what));

async function get(path) {
  const answer = await fetch(path);
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

let bodyRevision = null;

async function take(state) {
  const stale = state.body !== bodyRevision;
  const body = stale ? await get("/body") : desk.body;
  bodyRevision = state.body;
  desk.state = state;
  desk.body = body;
  if (stale) tell("body");
  tell("state");
}

export async function load() {
  const [state, talk] = await Promise.all([get("/state"), get("/talk")]);
  desk.talk = talk;
  tell("talk");
  await take(state);
}

/** A sentence for the coach; trouble stays until it is closed. */
export function toast(text, trouble = false) {
  const box = $("toast");
  box.replaceChildren(
    h("span", {}, text),
    h("button", { type: "button", class: "quiet", onclick: () => { box.hidden = true; } }, "Close"),
  );
  box.classList.toggle("trouble", trouble);
  box.hidden = false;
  clearTimeout(toast.timer);
  if (!trouble) toast.timer = setTimeout(() => { box.hidden = true; }, 4000);
}

let queue = Promise.resolve();
let waiting = 0;

/** Save one edit. Edits go one after the other, each on the newest revision. True = saved. */
export function edit(op, args = {}, merge = "") {
  waiting += 1;
  $("saved").textContent = "Saving …";
  const run = queue.then(() => send(op, args, merge));
  queue = run.catch(() => false);
  return run;
}

async function send(op, args, merge) {
  let saved = false;
  try {
    const answer = await post("/edit", { revision: desk.state.revision, op, args, merge });
    const said = await answer.json();
    saved = answer.ok;
    if (said.state) await take(said.state);
    if (!saved) toast(said.error, true);
    if (!saved && !said.state) await take(await get("/state"));
  } catch {
    toast("The desk does not answer: it was closed. What you did up to now is saved; start "
      + "launchside review again.", true);
  }
  waiting -= 1;
  if (!waiting) $("saved").textContent = saved ? "Saved" : "Not saved";
  return saved;
}

function post(path, value, keepalive = false) {
  const headers = { "content-type": "application/json" };
  return fetch(path, { method: "POST", headers, body: JSON.stringify(value), keepalive });
}

const pending = new Map();

/** Save what is being typed: after a pause, on leaving the field, and on leaving the page. */
export function editSoon(key, op, args, merge) {
  clearTimeout(pending.get(key)?.timer);
  const entry = { op, args, merge };
  entry.timer = setTimeout(() => flush(key), 450);
  pending.set(key, entry);
}

export function flush(key) {
  const entry = pending.get(key);
  if (!entry) return;
  clearTimeout(entry.timer);
  pending.delete(key);
  edit(entry.op, entry.args, entry.merge);
}

/** Undo or redo, after whatever is still being typed. */
export function travel(op) {
  for (const key of [...pending.keys()]) flush(key);
  return edit(op);
}

addEventListener("pagehide", () => {
  for (const { op, args, merge } of pending.values()) {
    post("/edit", { revision: desk.state.revision, op, args, merge }, true);
  }
  pending.clear();
});

export const make = async (what) => {
  for (const key of [...pending.keys()]) flush(key);
  await queue;
  const answer = await post("/make", { do: what });
  if (!answer.ok) toast((await answer.json()).error, true);
};

/** Follow the desk: progress of a make, and changes made elsewhere. */
export function listen() {
  const events = new EventSource("/events");
  events.onmessage = async ({ data }) => {
    const event = JSON.parse(data);
    if (event.kind === "make") {
      desk.make = event;
      tell("make");
    } else if (event.kind === "remade") {
      await load();
      tell("made");
    } else if (event.kind === "changed" && event.revision !== desk.state?.revision && !waiting) {
      await take(await get("/state"));
      toast("Changed in another tab or by hand: this page shows the newest.");
    }
  };
  addEventListener("pagehide", () => events.close());
}
