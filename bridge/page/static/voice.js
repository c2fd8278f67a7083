// The voice of the page: speaks what the watch sends, through the browser; off until somebody lets it speak.
// Takes: `say` events; what is chosen in the dialog, kept on this screen.  Gives: speech and sounds.

import { SpeechQueue } from "./speech.js";
import { sound } from "./tones.js";

const NAME = "holdshort-voice";
const DEFAULTS = { on: false, sound: true, mute: "nothing", rate: 1, name: "" };
const part = (id) => document.getElementById(id);
const chosen = { ...DEFAULTS, ...kept() };
const queue = new SpeechQueue({ say, stop }, () => performance.now() / 1000);
let touched = false;
let timer = 0;

export function speakUp() {
  if (!part("voice")) return;
  part("voice").addEventListener("click", open);
  part("voicing").addEventListener("input", choose);
  part("voice-try").addEventListener("click", attempt);
  for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, touch, { once: true });
  document.addEventListener("say", ({ detail }) => hear(detail));
  globalThis.speechSynthesis?.addEventListener?.("voiceschanged", listVoices);
  setInterval(() => queue.pump(), 500);
  apply();
}

function hear(what) {
  if (!chosen.on) return;
  const acts = {
    say: () => queue.put(what),
    revise: () => queue.revise(what),
    withdraw: () => queue.withdraw(what.key),
    hold: () => queue.hold(what.priorities),
    silence: () => queue.silence(what.on),
  };
  acts[what.do]?.();
  tell();
}

// -- the engine: sound first, then words; an engine that never says that it is done is not waited for ----------

function say(utterance, ended) {
  const before = chosen.sound ? sound(utterance.priority) : 0;
  const words = new SpeechSynthesisUtterance(utterance.spoken);
  words.lang = "en";
  words.rate = chosen.rate;
  words.voice = speechSynthesis.getVoices().find((voice) => voice.name === chosen.name) ?? null;
  words.onend = words.onerror = () => { clearTimeout(timer); ended(); };
  const longest = 3000 + (150 * utterance.spoken.length) / chosen.rate;
  timer = setTimeout(() => {
    speechSynthesis.speak(words);
    timer = setTimeout(() => { speechSynthesis.cancel(); ended(); }, longest);
  }, before * 1000);
}

function stop() {
  clearTimeout(timer);
  speechSynthesis.cancel();
}

// -- what is chosen ----------------------------------------------------------------------------------------------

function open() {
  listVoices();
  part("voice-on").checked = chosen.on;
  part("voice-sound").checked = chosen.sound;
  part("voice-mute").value = chosen.mute;
  part("voice-rate").value = chosen.rate;
  apply();
  part("voicing").showModal();
}

function choose() {
  chosen.on = part("voice-on").checked;
  chosen.sound = part("voice-sound").checked;
  chosen.mute = part("voice-mute").value;
  chosen.rate = Number(part("voice-rate").value);
  chosen.name = part("voice-name").value;
  localStorage.setItem(NAME, JSON.stringify(chosen));
  apply();
}

function apply() {
  const able = "speechSynthesis" in globalThis;
  const on = chosen.on && able;
  const asks = on ? "voice=1" : "";
  if (part("voice").dataset.stream !== asks) {
    part("voice").dataset.stream = asks;
    document.dispatchEvent(new CustomEvent("asking"));
  }
  if (on) queue.muting(chosen.mute);
  else if (able) { queue.muting("everything"); stop(); }
  part("voice-pace").value = chosen.rate.toFixed(1);
  part("voice-on").disabled = !able;
  tell();
}

// A browser speaks only after it was touched; until then the button says so.
function touch() {
  touched = true;
  tell();
}

function tell() {
  part("voice").textContent = `Voice ${word()}`;
  part("voice-state").textContent = "speechSynthesis" in globalThis ? sentence() : "This browser cannot speak.";
}

function word() {
  if (!chosen.on) return "off";
  if (queue.silenced) return "silenced";
  if (chosen.mute === "everything") return "muted";
  const active = touched || navigator.userActivation?.hasBeenActive;
  return active ? (chosen.mute === "nothing" ? "on" : "warnings") : "waits: touch";
}

function sentence() {
  if (!chosen.on) return "It is off.";
  return queue.silenced ? "The instructor silenced it for all." : "It is on; a warning is never talked over.";
}

function attempt() {
  const text = "This is the voice. Engine one, N two, twenty-five percent.";
  const left = { key: "try", priority: "information", text, spoken: text, interrupts: [], expires_in_s: 10 };
  if (chosen.on) queue.put(left);
  else part("voice-state").textContent = "It is off. Tick the box above first.";
}

function listVoices() {
  const list = part("voice-name");
  const voices = (globalThis.speechSynthesis?.getVoices() ?? []).filter((voice) => voice.lang.startsWith("en"));
  list.replaceChildren(new Option("the browser's own", ""), ...voices.map((voice) => new Option(voice.name, voice.name)));
  list.value = voices.some((voice) => voice.name === chosen.name) ? chosen.name : "";
}

function kept() {
  try {
    return JSON.parse(localStorage.getItem(NAME)) ?? {};
  } catch {
    return {};
  }
}
