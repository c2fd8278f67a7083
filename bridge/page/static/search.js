// Narrows a list down to what holds every word that is typed.
// Takes: an input with data-search (the id of a list); ID-none is shown where nothing is left.  Gives: hidden rows.

document.addEventListener("input", (event) => {
  const field = event.target.closest("[data-search]");
  if (field) narrow(field);
});

// A list that is made anew while words stand in the field is narrowed down again.
const watching = new MutationObserver(() => {
  for (const field of document.querySelectorAll("[data-search]")) if (field.value) narrow(field);
});
for (const panel of document.querySelectorAll("[data-panel]")) watching.observe(panel, { childList: true, subtree: true });

function narrow(field) {
  const list = document.getElementById(field.dataset.search);
  const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
  let left = 0;
  list.dataset.searched = "";
  for (const row of list.children) {
    const text = row.textContent.toLowerCase();
    row.hidden = !words.every((word) => text.includes(word));
    left += !row.hidden;
  }
  document.getElementById(`${list.id}-none`).hidden = left > 0;
}
