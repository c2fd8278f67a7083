// Tries papers while they are typed, and hands them to the watch when they are to be taken over.
// Takes: the fields that differ from the papers that hold.  Gives: faults and verdicts at their fields; one request.

import { morph } from "./stream.js";
import { send } from "./touch.js";

const SETTLE_MS = 250;
const EVERY_MS = 5000;
const form = document.getElementById("papers");
const tried = document.getElementById("tried");
const part = (id) => document.getElementById(id);
let timer = 0;
let asking = null;

function fields() {
  return [...form.querySelectorAll(".field input, .field select")];
}

function held(field) {
  if (field instanceof HTMLInputElement) return field.defaultValue;
  return [...field.options].find((option) => option.defaultSelected)?.value ?? "";
}

function typed() {
  const changed = fields().filter((field) => field.value !== held(field) && field.value.trim());
  return Object.fromEntries(changed.map((field) => [field.name, field.value]));
}

async function attempt() {
  clearTimeout(timer);
  asking?.abort();
  const mine = asking = new AbortController();
  try {
    const answer = await fetch(`/${document.body.dataset.device}/papers/try`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ values: typed() }),
      signal: mine.signal,
    });
    if (answer.ok) show(await answer.json());
  } catch {
    if (mine.signal.aborted) return;
  }
  timer = setTimeout(whileShown, EVERY_MS);
}

function whileShown() {
  if (!document.hidden) attempt();
}

function show({ text, faults, against }) {
  morph(tried, text);
  for (const field of fields()) {
    const says = part(`says-${field.name}`);
    const wrong = faults[field.name];
    const cannot = against[field.name] ?? [];
    field.setAttribute("aria-invalid", Boolean(wrong));
    says.dataset.kind = wrong ? "fault" : cannot.length ? "against" : "";
    says.textContent = wrong ? worded(wrong) : cannot.join(" ");
  }
  const many = Object.keys(typed()).length;
  const bad = Object.keys(faults).length;
  part("take").disabled = !many || bad > 0;
  part("undo").disabled = !many;
  part("taking").toggleAttribute("data-idle", !many);
  part("changes").textContent = !many ? "Nothing is changed." : `${many} changed${bad ? `; ${bad} cannot be read` : ""}.`;
}

function worded({ what, expected, hint }) {
  return `${what}${expected ? `; expected ${expected}` : ""}${hint ? ` (${hint})` : ""}.`;
}

function goBack() {
  for (const field of fields()) field.value = held(field);
  attempt();
}

function takeOver(event) {
  event.preventDefault();
  const values = typed();
  if (!Object.keys(values).length) return;
  const reason = JSON.stringify({ trip: { title: form.dataset.title || "papers", values } });
  send({ do: "amend", name: "papers.json", by: part("paper-by").value, reason }, part("take"));
}

form.addEventListener("submit", takeOver);
form.addEventListener("input", (event) => {
  if (!event.target.closest(".field")) return;
  clearTimeout(timer);
  timer = setTimeout(attempt, SETTLE_MS);
});
form.addEventListener("answered", ({ detail }) => { if (detail.accepted) taken(); });
part("undo").addEventListener("click", goBack);
document.addEventListener("visibilitychange", whileShown);
attempt();

// The papers that hold come back with the form, in the book's units; what was typed gives way to them.
function taken() {
  for (const field of fields()) {
    if (field instanceof HTMLInputElement) field.defaultValue = field.value;
    else for (const option of field.options) option.defaultSelected = option.selected;
  }
  const by = part("paper-by").value;
  form.reset();   // a field that was reset follows the form again
  part("paper-by").value = by;
  attempt();
}
