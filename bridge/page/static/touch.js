// What is touched goes to the watch; its answer is shown in one sentence.
// Takes: elements with data-do (a verb), data-name, data-by, data-reason, or a form of them.  Gives: requests.

import { askForKey, key } from "./key.js";

const SHOWN_MS = 6000;
const TWICE_MS = 400;   // a second press within this is the same one: what stands there now was not meant
const said = document.getElementById("said");
let hiding = 0;
let pressedAt = 0;

export function listenForTouches() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-do]");
    if (button && !button.form?.dataset.do && !twice()) send(button.dataset, button);
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.dataset.do) return;
    event.preventDefault();
    send({ ...form.dataset, ...Object.fromEntries(new FormData(form)) }, form);
  });
}

function twice() {
  const before = pressedAt;
  pressedAt = Date.now();
  return pressedAt - before < TWICE_MS;
}

export async function send(what, from) {
  const { do: verb, name = "", by = "", reason = "" } = what;
  const reply = await ask({ verb, name, by, reason });
  if (reply === null) return;
  say(reply.text, reply.accepted);
  from?.dispatchEvent(new CustomEvent("answered", { detail: reply, bubbles: true }));
  if (reply.accepted && from instanceof HTMLFormElement) clear(from);
}

// What says how something is now (data-stays) stays in its field; the rest is empty for the next one.
function clear(form) {
  for (const field of form.querySelectorAll("[data-stays]")) field.defaultValue = field.value;
  form.reset();
}

// One request; asks for the key where it is missing or wrong.  Gives null where that was left.
async function ask(request) {
  if (!key() && !(await askForKey("Changing something needs the key that the watch shows in its terminal."))) return null;
  const answer = await post(request);
  if (answer.status !== 403) return answer.reply;
  const again = await askForKey("That key does not fit. The watch shows the right one in its terminal.");
  return again ? ask(request) : null;
}

async function post(request) {
  try {
    const answer = await fetch(`/${document.body.dataset.device}/do`, {
      method: "POST",
      headers: { Authorization: `Bearer ${key()}`, "Content-Type": "application/json" },
      body: JSON.stringify(request),
    });
    return { status: answer.status, reply: await answer.json() };
  } catch {
    return { status: 0, reply: { accepted: false, text: "The watch does not answer; nothing was entered." } };
  }
}

export function say(text, done) {
  said.textContent = text;
  said.dataset.done = done;
  said.hidden = false;
  clearTimeout(hiding);
  hiding = setTimeout(() => { said.hidden = true; }, SHOWN_MS);
}
