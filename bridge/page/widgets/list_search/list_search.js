// Filters a list to the rows that contain every typed word.
// Takes: an input with data-search (the id of a list).  Gives: hidden rows; the element ID-none is shown if no row is left.

document.addEventListener("input", (event) => {
  const field = event.target.closest("[data-search]");
  if (field) filterList(field);
});

// An update of the panel may add rows while a search is active.
const observer = new MutationObserver(() => {
  for (const field of document.querySelectorAll("[data-search]")) if (field.value) filterList(field);
});
for (const panel of document.querySelectorAll("[data-panel]")) observer.observe(panel, { childList: true, subtree: true });

function filterList(field) {
  const list = document.getElementById(field.dataset.search);
  const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
  let left = 0;
  list.dataset.searched = "";   // updates leave the rows' hidden attribute alone, see stream.js
  for (const row of list.children) {
    const text = row.textContent.toLowerCase();
    row.hidden = !words.every((word) => text.includes(word));
    left += !row.hidden;
  }
  document.getElementById(`${list.id}-none`).hidden = left > 0;
}
