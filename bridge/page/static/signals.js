// Searches the signals, and keeps the answer up to date while it is looked at.
// Takes: what is typed.  Gives: rows from the server, once a second and at each letter.

import { morph } from "./stream.js";

const EVERY_MS = 1000;
const SETTLE_MS = 150;
const form = document.getElementById("search");
const found = document.getElementById("found");
let asking = null;
let again = 0;

async function look() {
  clearTimeout(again);
  asking?.abort();
  const mine = asking = new AbortController();
  const words = new URLSearchParams(new FormData(form));
  history.replaceState(null, "", `?${words}`);
  try {
    const answer = await fetch(`/${document.body.dataset.device}/signals/list?${words}`, { signal: mine.signal });
    if (answer.ok) morph(found, await answer.text());
  } catch {
    if (mine.signal.aborted) return;
  }
  if (asking === mine) again = setTimeout(whileShown, EVERY_MS);
}

function whileShown() {
  if (document.hidden) return;
  look();
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("input", () => {
  clearTimeout(again);
  again = setTimeout(look, SETTLE_MS);
});
document.addEventListener("visibilitychange", whileShown);
look();
