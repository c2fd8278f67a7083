// Hides the kinds of entries that the user does not want, and stores the choice in this browser.
// Takes: the ticked boxes.  Gives: data-hide on the main element, which the style sheet reads.

const NAME = "holdshort-kinds-hidden";
const boxes = [...document.querySelectorAll("#kinds input")];
const main = document.getElementById("main");

function hide(kinds) {
  main.dataset.hide = kinds.join(" ");
}

function applyFilter() {
  const kinds = boxes.filter((box) => !box.checked).map((box) => box.value);
  localStorage.setItem(NAME, kinds.join(" "));
  hide(kinds);
}

const hidden = (localStorage.getItem(NAME) ?? "").split(" ").filter(Boolean);
for (const box of boxes) {
  box.checked = !hidden.includes(box.value);
  box.addEventListener("change", applyFilter);
}
hide(hidden);
