// What is new, as it comes; and the plain word where nothing comes any more.
// Takes: the panels in this page that are shown, and what elements with data-stream ask for besides (`trace=...`).
// Gives: their newest text (what has data-keep is left alone), and events of other kinds as DOM events.

import { Idiomorph } from "./vendor/idiomorph.esm.js";

const SILENT_MS = 12000;   // three beats
const AGAIN_MS = 5000;
const lost = document.getElementById("lost");
let source = null;
let heardAt = Date.now();
let triedAt = 0;
let shown = "";

export function follow({ device, boot }) {
  connect(device, boot);
  addEventListener("resize", () => reconnect(device, boot));
  document.addEventListener("asking", () => reconnect(device, boot));
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && Date.now() - heardAt > SILENT_MS) reconnect(device, boot, true);
  });
  setInterval(() => {
    if (Date.now() - heardAt <= SILENT_MS) return;
    tellLost();
    const over = source.readyState === EventSource.CLOSED;
    if (over || Date.now() - triedAt > AGAIN_MS) reconnect(device, boot, true);   // a dead connection may look open
  }, 1000);
  addEventListener("online", () => reconnect(device, boot, true));
}

// A script that changes a data-stream says so with the event "asking".
function asked() {
  const panels = [...document.querySelectorAll("[data-panel]")].filter((panel) => panel.getClientRects().length);
  const names = new Set(panels.map((panel) => panel.dataset.panel));
  const more = [...document.querySelectorAll("[data-stream]")].map((element) => element.dataset.stream).filter(Boolean);
  return [`panels=${[...names].join(",")}`, ...more].join("&");
}

function reconnect(device, boot, always = false) {
  if (!always && asked() === shown) return;
  source.close();
  connect(device, boot);
}

function connect(device, boot) {
  shown = asked();
  triedAt = Date.now();
  source = new EventSource(`${device && `/${device}`}/stream?${shown}`);
  const on = (name, act) => source.addEventListener(name, (event) => {
    heard();
    act(JSON.parse(event.data));
  });
  on("hello", (data) => { if (data.boot !== boot) location.reload(); });
  on("panel", show);
  on("beat", () => {});
  on("bye", () => tellLost());
  for (const name of ["say", "trace"]) {
    on(name, (data) => document.dispatchEvent(new CustomEvent(name, { detail: data })));
  }
}

function heard() {
  heardAt = Date.now();
  lost.hidden = true;
  document.body.classList.remove("old");
}

function tellLost() {
  lost.textContent = "The watch does not answer. What stands here is old. Trying again.";
  lost.hidden = false;
  document.body.classList.add("old");
}

function show({ name, text }) {
  for (const panel of document.querySelectorAll(`[data-panel="${name}"]`)) morph(panel, text);
}

export function morph(element, text) {
  const trail = whereFocusIs(element);
  Idiomorph.morph(element, text, {
    morphStyle: "innerHTML",
    ignoreActiveValue: true,
    callbacks: { beforeAttributeUpdated: keepWhatTheReaderDid, beforeNodeMorphed: (old) => !old.dataset || !("keep" in old.dataset) },
  });
  if (trail.length && document.activeElement === document.body) focusNear(trail);
}

// The ids around what has the focus, from the inside out.
function whereFocusIs(element) {
  const trail = [];
  if (!element.contains(document.activeElement)) return trail;
  for (let node = document.activeElement; node && node !== element; node = node.parentElement) if (node.id) trail.push(node.id);
  return trail;
}

// What had the focus is gone; the nearest thing around it that can be touched has it now.
function focusNear(trail) {
  const around = trail.map((id) => document.getElementById(id)).find(Boolean);
  const near = around?.querySelector("button, summary, a, input") ?? document.getElementById("main");
  near.focus({ preventScroll: true });
}

// A fold that was opened stays open; what is typed, chosen or searched for stays until it is sent.
function keepWhatTheReaderDid(attribute, node) {
  if (attribute === "open") return !(node instanceof HTMLDetailsElement);
  if (attribute === "hidden") return !node.closest("[data-searched]");
  if (!(node instanceof HTMLInputElement || node instanceof HTMLTextAreaElement)) return true;
  if (attribute === "value") return node.value === node.defaultValue;
  return attribute !== "checked" || node.checked === node.defaultChecked;
}
