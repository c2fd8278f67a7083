// Speaks the utterances that the watch sends, through the browser; off until the user turns it on.
// Takes: `speech` events; the settings of the dialog, stored in this browser.  Gives: speech and sounds.

import { SpeechQueue } from "./speech_queue.js";
import { sound } from "./tones.js";

const NAME = "holdshort-voice";
const DEFAULTS = { on: false, sound: true, mute: "nothing", rate: 1, name: "" };
const part = (id) => document.getElementById(id);
const settings = { ...DEFAULTS, ...storedChoice() };
const queue = new SpeechQueue({ speak, stop }, () => performance.now() / 1000);
let gestureSeen = false;
let timer = 0;

export function startVoice() {
  if (!part("voice")) return;
  part("voice").addEventListener("click", open);
  part("voice-dialog").addEventListener("input", choose);
  part("voice-try").addEventListener("click", trySpeech);
  for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, noteGesture, { once: true });
  document.addEventListener("speech", ({ detail }) => onSpeech(detail));
  globalThis.speechSynthesis?.addEventListener?.("voiceschanged", listVoices);
  setInterval(() => queue.pump(), 500);
  apply();
}

function onSpeech(action) {
  if (!settings.on) return;
  const acts = {
    speak: () => queue.put(action),
    revise: () => queue.revise(action),
    withdraw: () => queue.withdraw(action.key),
    hold: () => queue.hold(action.priorities),
    mute: () => queue.muteAll(action.on),
  };
  acts[action.do]?.();
  showState();
}

// -- the engine: a sound first, then the words -----------------------------------------------------------------------

// Some browsers never report the end of an utterance, for example if their voice was removed while speaking.  Without
// the longest time the queue would wait for it and stay silent.
function speak(utterance, ended) {
  const soundS = settings.sound ? sound(utterance.priority) : 0;
  const words = new SpeechSynthesisUtterance(utterance.speech);
  words.lang = "en";
  words.rate = settings.rate;
  words.voice = speechSynthesis.getVoices().find((voice) => voice.name === settings.name) ?? null;
  words.onend = words.onerror = () => { clearTimeout(timer); ended(); };
  const longestMs = 3000 + (150 * utterance.speech.length) / settings.rate;
  timer = setTimeout(() => {
    speechSynthesis.speak(words);
    timer = setTimeout(() => { speechSynthesis.cancel(); ended(); }, longestMs);
  }, soundS * 1000);
}

function stop() {
  clearTimeout(timer);
  speechSynthesis.cancel();
}

// -- the settings ----------------------------------------------------------------------------------------------------

function open() {
  listVoices();
  part("voice-on").checked = settings.on;
  part("voice-sound").checked = settings.sound;
  part("voice-mute").value = settings.mute;
  part("voice-rate").value = settings.rate;
  apply();
  part("voice-dialog").showModal();
}

function choose() {
  settings.on = part("voice-on").checked;
  settings.sound = part("voice-sound").checked;
  settings.mute = part("voice-mute").value;
  settings.rate = Number(part("voice-rate").value);
  settings.name = part("voice-name").value;
  localStorage.setItem(NAME, JSON.stringify(settings));
  apply();
}

function apply() {
  const able = "speechSynthesis" in globalThis;
  const on = settings.on && able;
  const query = on ? "voice=1" : "";
  if (part("voice").dataset.stream !== query) {
    part("voice").dataset.stream = query;
    document.dispatchEvent(new CustomEvent("streamchange"));
  }
  if (on) queue.setMute(settings.mute);
  else if (able) { queue.setMute("everything"); stop(); }
  part("voice-speed").value = settings.rate.toFixed(1);
  part("voice-on").disabled = !able;
  showState();
}

// A browser refuses to speak before the first gesture of the user; until then the button asks for one.
function noteGesture() {
  gestureSeen = true;
  showState();
}

function showState() {
  part("voice").textContent = `Voice ${stateWord()}`;
  part("voice-state").textContent = "speechSynthesis" in globalThis ? stateSentence() : "This browser cannot speak.";
}

function stateWord() {
  if (!settings.on) return "off";
  if (queue.allMuted) return "muted";
  if (settings.mute === "everything") return "muted";
  const active = gestureSeen || navigator.userActivation?.hasBeenActive;
  return active ? (settings.mute === "nothing" ? "on" : "warnings") : "waits: touch";
}

function stateSentence() {
  if (!settings.on) return "The voice is off.";
  return queue.allMuted ? "The instructor muted the voice on all screens." : "The voice is on. Warnings are never interrupted.";
}

function trySpeech() {
  const text = "This is the voice. Engine one, N two, twenty-five percent.";
  const utterance = { key: "try", priority: "information", text, speech: text, interrupts: [], expires_in_s: 10 };
  if (settings.on) queue.put(utterance);
  else part("voice-state").textContent = "The voice is off. Tick the box above first.";
}

function listVoices() {
  const list = part("voice-name");
  const voices = (globalThis.speechSynthesis?.getVoices() ?? []).filter((voice) => voice.lang.startsWith("en"));
  list.replaceChildren(new Option("browser default", ""), ...voices.map((voice) => new Option(voice.name, voice.name)));
  list.value = voices.some((voice) => voice.name === settings.name) ? settings.name : "";
}

function storedChoice() {
  try {
    return JSON.parse(localStorage.getItem(NAME)) ?? {};
  } catch {
    return {};
  }
}
