// Checks the trip sheet while fields are edited, and sends the changed fields to the watch when they are applied.
// Takes: the fields that differ from the current trip sheet.  Gives: messages at their fields; one request.

import { send } from "/static/actions.js";
import { morph } from "/static/stream.js";

const SETTLE_MS = 250;
const EVERY_MS = 5000;
const form = document.getElementById("trip-sheet");
const result = document.getElementById("check");
const part = (id) => document.getElementById(id);
let timer = 0;
let running = null;

function fields() {
  return [...form.querySelectorAll(".field input, .field select")];
}

// The current trip sheet is what the server rendered: the default of a field.  An update of the panel changes defaults.
function currentValue(field) {
  if (field instanceof HTMLInputElement) return field.defaultValue;
  return [...field.options].find((option) => option.defaultSelected)?.value ?? "";
}

function changedValues() {
  const changed = fields().filter((field) => field.value !== currentValue(field) && field.value.trim());
  return Object.fromEntries(changed.map((field) => [field.name, field.value]));
}

// A newer check aborts an older one, so that an old answer never overwrites a newer one.
async function check() {
  clearTimeout(timer);
  running?.abort();
  const mine = running = new AbortController();
  try {
    const answer = await fetch(`/${document.body.dataset.device}/trip_sheet/check`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ values: changedValues() }),
      signal: mine.signal,
    });
    if (answer.ok) show(await answer.json());
  } catch {
    if (mine.signal.aborted) return;
  }
  timer = setTimeout(whileShown, EVERY_MS);
}

function whileShown() {
  if (!document.hidden) check();
}

function show({ text, errors, conflicts }) {
  morph(result, text);
  for (const field of fields()) {
    const message = part(`message-${field.name}`);
    const error = errors[field.name];
    const conflict = conflicts[field.name] ?? [];
    field.setAttribute("aria-invalid", Boolean(error));
    message.dataset.kind = error ? "error" : conflict.length ? "conflict" : "";
    message.textContent = error ? errorText(error) : conflict.join(" ");
  }
  const changed = Object.keys(changedValues()).length;
  const unreadable = Object.keys(errors).length;
  part("apply").disabled = !changed || unreadable > 0;
  part("undo").disabled = !changed;
  part("apply-bar").toggleAttribute("data-idle", !changed);
  part("changes").textContent = !changed ? "No changes." : `${changed} changed${unreadable ? `; ${unreadable} cannot be read` : ""}.`;
}

function errorText({ what, expected, hint }) {
  return `${what}${expected ? `; expected ${expected}` : ""}${hint ? ` (${hint})` : ""}.`;
}

function undoChanges() {
  for (const field of fields()) field.value = currentValue(field);
  check();
}

function apply(event) {
  event.preventDefault();
  const values = changedValues();
  if (!Object.keys(values).length) return;
  const reason = JSON.stringify({ trip: { title: form.dataset.title || "trip sheet", values } });
  send({ do: "amend", name: "trip_sheet.json", by: part("trip-by").value, reason }, part("apply"));
}

form.addEventListener("submit", apply);
form.addEventListener("input", (event) => {
  if (!event.target.closest(".field")) return;
  clearTimeout(timer);
  timer = setTimeout(check, SETTLE_MS);
});
form.addEventListener("answered", ({ detail }) => { if (detail.accepted) onApplied(); });
part("undo").addEventListener("click", undoChanges);
document.addEventListener("visibilitychange", whileShown);
check();

// The panel's update brings the applied values in the units of the signal book ("125000 lb" as "56 699 kg").  A field takes
// a new default only while its value equals its old default (stream.js), so the typed values become the defaults first.
function onApplied() {
  for (const field of fields()) {
    if (field instanceof HTMLInputElement) field.defaultValue = field.value;
    else for (const option of field.options) option.defaultSelected = option.selected;
  }
  const by = part("trip-by").value;
  form.reset();   // clears the "changed by the user" flag of each field, so that it follows its default again
  part("trip-by").value = by;
  check();
}
