// Sends actions to the watch when a button is pressed or a form is sent, and shows the reply.
// Takes: elements with data-do (a verb), data-name, data-by, data-reason, or a form with them.  Gives: requests.

import { askForKey, key } from "/static/widgets/key_dialog/key_dialog.js";

const REPLY_MS = 6000;
const DOUBLE_PRESS_MS = 400;
const replyLine = document.getElementById("reply");
let hideTimer = 0;
let pressedAt = 0;

export function listenForActions() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-do]");
    if (button && !button.form?.dataset.do && !isDoublePress()) send(button.dataset, button);
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.dataset.do) return;
    event.preventDefault();
    send({ ...form.dataset, ...Object.fromEntries(new FormData(form)) }, form);
  });
}

// The first press may put another button under the finger (Undo in place of Enter); the second one was not meant for it.
function isDoublePress() {
  const before = pressedAt;
  pressedAt = Date.now();
  return pressedAt - before < DOUBLE_PRESS_MS;
}

export async function send(action, element) {
  const { do: verb, name = "", by = "", reason = "" } = action;
  const reply = await request({ verb, name, by, reason });
  if (reply === null) return;
  showReply(reply.text, reply.accepted);
  element?.dispatchEvent(new CustomEvent("answered", { detail: reply, bubbles: true }));
  if (reply.accepted && element instanceof HTMLFormElement) clear(element);
}

// A field with data-current shows the current value and keeps it; the other fields are emptied for the next entry.
function clear(form) {
  for (const field of form.querySelectorAll("[data-current]")) field.defaultValue = field.value;
  form.reset();
}

// Sends one request; asks for the key if it is missing or wrong.  Returns null if the user cancels the dialog.
async function request(body) {
  if (!key() && !(await askForKey("Changes need the key that the watch shows in its terminal."))) return null;
  const answer = await post(body);
  if (answer.status !== 403) return answer.reply;
  const again = await askForKey("Wrong key. The watch shows the right one in its terminal.");
  return again ? request(body) : null;
}

async function post(body) {
  try {
    const answer = await fetch(`/${document.body.dataset.device}/do`, {
      method: "POST",
      headers: { Authorization: `Bearer ${key()}`, "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
    return { status: answer.status, reply: await answer.json() };
  } catch {
    return { status: 0, reply: { accepted: false, text: "No answer from the watch; nothing was entered." } };
  }
}

function showReply(text, accepted) {
  replyLine.textContent = text;
  replyLine.dataset.accepted = accepted;
  replyLine.hidden = false;
  clearTimeout(hideTimer);
  hideTimer = setTimeout(() => { replyLine.hidden = true; }, REPLY_MS);
}
