// The key that every change needs, kept on this screen.
// Takes: the address (after #key=) or what is typed.  Gives: the key, "" while there is none.

const NAME = "holdshort-key";

export function keyFromAddress() {
  const given = new URLSearchParams(location.hash.slice(1)).get("key");
  if (given === null) return;
  keepKey(given);
  history.replaceState(null, "", location.pathname + location.search);
}

export function key() {
  return localStorage.getItem(NAME) ?? "";
}

export function keepKey(text) {
  localStorage.setItem(NAME, text.trim());
}

// Ask for it; gives whether one was typed.
export function askForKey(why) {
  const dialog = document.getElementById("ask-key");
  const field = dialog.querySelector("input");
  document.getElementById("ask-key-why").textContent = why;
  field.value = "";
  return new Promise((done) => {
    dialog.addEventListener("close", () => {
      const typed = dialog.returnValue === "keep" ? field.value.trim() : "";
      if (typed) keepKey(typed);
      done(Boolean(typed));
    }, { once: true });
    dialog.returnValue = "";
    dialog.showModal();
    field.focus();
  });
}
