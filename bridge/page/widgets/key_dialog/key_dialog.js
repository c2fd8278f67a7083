// Stores the access key in this browser, and asks for it.
// Takes: the address (after #key=) or the typed text.  Gives: the key, "" if there is none.

const NAME = "holdshort-key";

export function keyFromAddress() {
  const given = new URLSearchParams(location.hash.slice(1)).get("key");
  if (given === null) return;
  storeKey(given);
  history.replaceState(null, "", location.pathname + location.search);   // keeps the key out of the history and of shared links
}

export function key() {
  return localStorage.getItem(NAME) ?? "";
}

function storeKey(text) {
  localStorage.setItem(NAME, text.trim());
}

// Opens the dialog; resolves to true if a key was entered.
export function askForKey(why) {
  const dialog = document.getElementById("ask-key");
  const field = dialog.querySelector("input");
  document.getElementById("ask-key-why").textContent = why;
  field.value = "";
  return new Promise((done) => {
    dialog.addEventListener("close", () => {
      const typed = dialog.returnValue === "save" ? field.value.trim() : "";
      if (typed) storeKey(typed);
      done(Boolean(typed));
    }, { once: true });
    dialog.returnValue = "";
    dialog.showModal();
    field.focus();
  });
}
