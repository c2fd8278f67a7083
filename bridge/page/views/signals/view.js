// Searches the signals, and refreshes the results while the view is visible.
// Takes: the words of the search.  Gives: rows from the server, once a second and after each letter.

import { morph } from "/static/stream.js";

const EVERY_MS = 1000;
const SETTLE_MS = 150;
const form = document.getElementById("search");
const found = document.getElementById("found");
let running = null;
let timer = 0;

// A newer search aborts an older one, so that an old answer never overwrites a newer one.
async function search() {
  clearTimeout(timer);
  running?.abort();
  const mine = running = new AbortController();
  const query = new URLSearchParams(new FormData(form));
  history.replaceState(null, "", `?${query}`);
  try {
    const answer = await fetch(`/${document.body.dataset.device}/signals/list?${query}`, { signal: mine.signal });
    if (answer.ok) morph(found, await answer.text());
  } catch {
    if (mine.signal.aborted) return;
  }
  if (running === mine) timer = setTimeout(whileShown, EVERY_MS);
}

function whileShown() {
  if (document.hidden) return;
  search();
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(search, SETTLE_MS);
});
document.addEventListener("visibilitychange", whileShown);
search();
