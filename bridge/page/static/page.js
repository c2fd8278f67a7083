// Keeps a page up to date and sends what is touched.
// Takes: the page as the server made it.  Gives: the same page, alive.

import { keyFromAddress } from "./key.js";
import { listenForTouches } from "./touch.js";
import { follow } from "./stream.js";
import { speakUp } from "./voice.js";

keyFromAddress();
listenForTouches();
speakUp();
follow(document.body.dataset);
document.querySelector(".views [aria-current]")?.scrollIntoView({ inline: "center", block: "nearest" });
