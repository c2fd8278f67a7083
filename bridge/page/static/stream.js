// Receives the changes of the page over server-sent events, and reports a lost connection.
// Takes: the visible panels, and the queries of elements with data-stream (`trace=...`).
// Gives: the newest text of each panel (elements with data-keep are not touched), and other events as DOM events.

import { Idiomorph } from "./vendor/idiomorph.esm.js";

const SILENT_MS = 12000;   // three heartbeats
const RETRY_MS = 5000;
const lost = document.getElementById("lost");
let source = null;
let lastEventAt = Date.now();
let connectedAt = 0;
let currentQuery = "";

// Three things end a connection, and the browser reports only one of them:
//
//   the server closes it          readyState CLOSED; EventSource does not retry after every error
//   the network goes away         readyState stays OPEN, no event comes: only the missing heartbeat shows it
//   the system freezes the page   timers stop too; when the page is visible again, lastEventAt is old
//
// So the clock decides, not readyState, and every way back (visible, online, timer) opens a new connection.
export function follow({ device, boot }) {
  connect(device, boot);
  addEventListener("resize", () => reconnect(device, boot));   // other panels may be visible now
  document.addEventListener("streamchange", () => reconnect(device, boot));
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && Date.now() - lastEventAt > SILENT_MS) reconnect(device, boot, true);
  });
  setInterval(() => {
    if (Date.now() - lastEventAt <= SILENT_MS) return;
    showLost();
    const closed = source.readyState === EventSource.CLOSED;
    if (closed || Date.now() - connectedAt > RETRY_MS) reconnect(device, boot, true);   // a dead connection may look open
  }, 1000);
  addEventListener("online", () => reconnect(device, boot, true));
}

// A script that changes a data-stream attribute dispatches the event "streamchange".
function wantedQuery() {
  const panels = [...document.querySelectorAll("[data-panel]")].filter((panel) => panel.getClientRects().length);
  const names = new Set(panels.map((panel) => panel.dataset.panel));
  const queries = [...document.querySelectorAll("[data-stream]")].map((element) => element.dataset.stream).filter(Boolean);
  return [`panels=${[...names].join(",")}`, ...queries].join("&");
}

function reconnect(device, boot, always = false) {
  if (!always && wantedQuery() === currentQuery) return;
  source.close();
  connect(device, boot);
}

function connect(device, boot) {
  currentQuery = wantedQuery();
  connectedAt = Date.now();
  source = new EventSource(`${device && `/${device}`}/stream?${currentQuery}`);
  const on = (name, act) => source.addEventListener(name, (event) => {
    noteEvent();
    act(JSON.parse(event.data));
  });
  on("hello", (data) => { if (data.boot !== boot) location.reload(); });   // another run: templates may differ
  on("panel", showPanel);
  on("heartbeat", () => {});
  on("bye", () => showLost());
  for (const name of ["speech", "trace"]) {
    on(name, (data) => document.dispatchEvent(new CustomEvent(name, { detail: data })));
  }
}

function noteEvent() {
  lastEventAt = Date.now();
  lost.hidden = true;
  document.body.classList.remove("old");
}

function showLost() {
  lost.textContent = "No answer from the watch. Data shown is old. Trying again.";
  lost.hidden = false;
  document.body.classList.add("old");
}

function showPanel({ name, text }) {
  for (const panel of document.querySelectorAll(`[data-panel="${name}"]`)) morph(panel, text);
}

// Changes an element to a new text node by node, so that focus, scroll positions, open folds and typed text survive.
export function morph(element, text) {
  const path = focusPath(element);
  Idiomorph.morph(element, text, {
    morphStyle: "innerHTML",
    ignoreActiveValue: true,
    callbacks: { beforeAttributeUpdated: keepReaderState, beforeNodeMorphed: (old) => !old.dataset || !("keep" in old.dataset) },
  });
  if (path.length && document.activeElement === document.body) focusNear(path);
}

// The ids of the focused element and its ancestors, from the inside out.
function focusPath(element) {
  const path = [];
  if (!element.contains(document.activeElement)) return path;
  for (let node = document.activeElement; node && node !== element; node = node.parentElement) if (node.id) path.push(node.id);
  return path;
}

// Called when the focused element was removed, for example a button that was pressed:
//
//   before  ul#calls-list > li#call-3 > button#enter-3 (focused)      path: enter-3, call-3, calls-list
//   after   ul#calls-list > li#call-3 > button#undo-3                 the nearest ancestor left is call-3
//
// so undo-3 gets the focus, and keyboard users do not start again at the top of the page.
function focusNear(path) {
  const ancestor = path.map((id) => document.getElementById(id)).find(Boolean);
  const near = ancestor?.querySelector("button, summary, a, input") ?? document.getElementById("main");
  near.focus({ preventScroll: true });
}

// Returns false for an attribute that belongs to the reader: a fold's "open", a row hidden by a search, and the value
// of a field.  A field's attribute is its default; it may change only while the reader has not changed the value itself.
function keepReaderState(attribute, node) {
  if (attribute === "open") return !(node instanceof HTMLDetailsElement);
  if (attribute === "hidden") return !node.closest("[data-searched]");
  if (!(node instanceof HTMLInputElement || node instanceof HTMLTextAreaElement)) return true;
  if (attribute === "value") return node.value === node.defaultValue;
  return attribute !== "checked" || node.checked === node.defaultChecked;
}
