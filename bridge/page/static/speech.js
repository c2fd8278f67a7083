// What waits to be said, and what is being said: one at a time, the gravest first, by the rules of the watch's own queue.
// Takes: utterances, the clock in seconds, and an engine (`say(utterance, ended)`, `stop()`).  Gives: calls to the engine.

const ORDER = ["warning", "callout", "caution", "advisory", "challenge", "information"];
const MOST_WAITING = 32;

export class SpeechQueue {
  constructor(engine, clock) {
    Object.assign(this, { engine, clock, waiting: [], now: null, held: new Set(), mute: "nothing", silenced: false });
  }

  put(utterance) {
    if (this.muted(utterance.priority)) return;
    this.waiting = this.waiting.filter((one) => one.key !== utterance.key);
    this.waiting.push({ ...utterance, until: this.clock() + utterance.expires_in_s, cut: false });
    this.sort();
    if (this.waiting.length > MOST_WAITING) this.waiting.pop();
    this.pump();
  }

  revise(utterance) {
    for (const one of this.waiting) if (one.key === utterance.key) Object.assign(one, { text: utterance.text, spoken: utterance.spoken });
  }

  withdraw(key) {
    this.waiting = this.waiting.filter((one) => one.key !== key);
    if (this.now?.key === key) this.now.cut = true;   // it is not said again if it is cut off
  }

  // What is held waits without growing old; a warning is never held.
  hold(priorities) {
    const before = this.held;
    this.held = new Set(priorities.filter((priority) => priority !== "warning"));
    const now = this.clock();
    for (const one of this.waiting) {
      const [was, is] = [before.has(one.priority), this.held.has(one.priority)];
      if (was && !is) one.until += now - (one.heldAt ?? now);
      if (was !== is) one.heldAt = is ? now : undefined;
    }
    this.pump();
  }

  silence(on) {
    this.silenced = on;
    this.pump();
  }

  muting(mute) {
    this.mute = mute;
    this.pump();
  }

  // Drops what is past, cuts off what has to give way, and begins the next.
  pump() {
    const now = this.clock();
    for (const one of this.waiting) if (this.held.has(one.priority)) one.heldAt ??= now;
    this.waiting = this.waiting.filter((one) => !this.muted(one.priority) && (one.until > now || this.held.has(one.priority)));
    if (this.now && this.givesWay(this.now)) this.cutOff();
    if (this.now) return;
    const next = this.waiting.find((one) => !this.held.has(one.priority));
    if (!next) return;
    this.waiting = this.waiting.filter((one) => one !== next);
    this.now = next;
    this.engine.say(next, () => { if (this.now === next) { this.now = null; this.pump(); } });
  }

  givesWay(one) {
    if (this.muted(one.priority) || this.held.has(one.priority)) return true;
    return this.waiting.some((other) => other.interrupts.includes(one.priority) && !this.held.has(other.priority));
  }

  // Said once more from its beginning, if it is still worth saying then.
  cutOff() {
    const was = this.now;
    this.now = null;
    this.engine.stop();
    if (was.cut || this.muted(was.priority) || this.waiting.some((one) => one.key === was.key)) return;
    this.waiting.push({ ...was, cut: true, heldAt: this.held.has(was.priority) ? this.clock() : undefined });
    this.sort();
  }

  sort() {
    this.waiting.sort((a, b) => ORDER.indexOf(a.priority) - ORDER.indexOf(b.priority));
  }

  muted(priority) {
    return this.silenced || this.mute === "everything" || (this.mute === "but warnings" && priority !== "warning");
  }
}
