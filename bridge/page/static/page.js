// Starts the scripts that every page needs.
// Takes: the page as the server rendered it.  Gives: the same page, kept up to date and ready for input.

import { keyFromAddress } from "/static/widgets/key_dialog/key_dialog.js";
import { startVoice } from "/static/widgets/voice/voice.js";
import { listenForActions } from "./actions.js";
import { follow } from "./stream.js";

keyFromAddress();
listenForActions();
startVoice();
follow(document.body.dataset);
document.querySelector(".views [aria-current]")?.scrollIntoView({ inline: "center", block: "nearest" });
