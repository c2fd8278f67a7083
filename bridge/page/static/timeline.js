// Which kinds of lines are shown, kept on this screen.
// Takes: the boxes that are ticked.  Gives: data-hide on the page's main part, which the sheet reads.

const NAME = "holdshort-kinds-hidden";
const boxes = [...document.querySelectorAll("#kinds input")];
const main = document.getElementById("main");

function hide(kinds) {
  main.dataset.hide = kinds.join(" ");
}

function look() {
  const kinds = boxes.filter((box) => !box.checked).map((box) => box.value);
  localStorage.setItem(NAME, kinds.join(" "));
  hide(kinds);
}

const hidden = (localStorage.getItem(NAME) ?? "").split(" ").filter(Boolean);
for (const box of boxes) {
  box.checked = !hidden.includes(box.value);
  box.addEventListener("change", look);
}
hide(hidden);
