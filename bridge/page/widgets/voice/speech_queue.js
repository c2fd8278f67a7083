// Queues utterances and speaks one at a time, the highest priority first, with the rules of the watch's own queue.
// Takes: utterances, the clock in seconds, and an engine (`speak(utterance, ended)`, `stop()`).  Gives: calls to the engine.

const ORDER = ["warning", "callout", "caution", "advisory", "challenge", "information"];
const MAX_WAITING = 32;

export class SpeechQueue {
  constructor(engine, clock) {
    Object.assign(this, { engine, clock, waiting: [], current: null, unspoken: {}, held: new Set(), mute: "nothing", allMuted: false });
  }

  put(utterance) {
    if (this.isMuted(utterance.priority)) return;
    this.waiting = this.waiting.filter((one) => one.key !== utterance.key);
    this.waiting.push({ ...utterance, until: this.clock() + utterance.expires_in_s, interrupted: false });
    this.sort();
    if (this.waiting.length > MAX_WAITING) this.countUnspoken(this.waiting.pop());
    this.pump();
  }

  revise(utterance) {
    for (const one of this.waiting) if (one.key === utterance.key) Object.assign(one, { text: utterance.text, speech: utterance.speech });
  }

  withdraw(key) {
    this.waiting = this.waiting.filter((one) => one.key !== key);
    if (this.current?.key === key) this.current.interrupted = true;   // if interrupted now, it is not repeated
  }

  // While held, an utterance waits and does not age; warnings are never held.
  //
  //   time          0     2          5     6
  //   put, 4 s      |--2--|                         2 s used
  //   held                |----3-----|              no time used: until moves from 4 to 7
  //   released                       |--2--|  7     2 s left
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

  muteAll(on) {
    this.allMuted = on;
    this.pump();
  }

  setMute(mute) {
    this.mute = mute;
    this.pump();
  }

  // Drops expired utterances, interrupts the current one if it must yield, and starts the next.
  pump() {
    const now = this.clock();
    for (const one of this.waiting) if (this.held.has(one.priority)) one.heldAt ??= now;
    const expired = (one) => one.until <= now && !this.held.has(one.priority);
    this.waiting = this.waiting.filter((one) => !this.isMuted(one.priority));
    this.waiting.filter(expired).forEach((one) => this.countUnspoken(one));
    this.waiting = this.waiting.filter((one) => !expired(one));
    if (this.current && this.mustYield(this.current)) this.interrupt();
    if (this.current) return;
    const next = this.waiting.find((one) => !this.held.has(one.priority));
    if (!next) return;
    this.waiting = this.waiting.filter((one) => one !== next);
    this.current = this.withEarlier(next);
    // The engine may report the end of an utterance that was interrupted; only the end of the current one counts.
    const current = this.current;
    this.engine.speak(current, () => { if (this.current === current) { this.current = null; this.pump(); } });
  }

  // Notices that expired unspoken are counted in the next utterance of their priority.
  countUnspoken(one) {
    this.unspoken[one.priority] = (this.unspoken[one.priority] ?? 0) + one.notices;
  }

  withEarlier(one) {
    const earlier = one.notices ? this.unspoken[one.priority] ?? 0 : 0;
    if (!earlier) return one;
    this.unspoken[one.priority] = 0;
    const speech = `${one.speech} ${earlier} earlier ${earlier === 1 ? "one" : "ones"} not spoken.`;
    return { ...one, speech, notices: one.notices + earlier };
  }

  mustYield(one) {
    if (this.isMuted(one.priority) || this.held.has(one.priority)) return true;
    return this.waiting.some((other) => other.interrupts.includes(one.priority) && !this.held.has(other.priority));
  }

  // An interrupted utterance is repeated once from its beginning, unless it expires, is withdrawn or replaced before.
  interrupt() {
    const old = this.current;
    this.current = null;
    this.engine.stop();
    if (old.interrupted || this.isMuted(old.priority) || this.waiting.some((one) => one.key === old.key)) return;
    this.waiting.push({ ...old, interrupted: true, heldAt: this.held.has(old.priority) ? this.clock() : undefined });
    this.sort();
  }

  sort() {
    this.waiting.sort((a, b) => ORDER.indexOf(a.priority) - ORDER.indexOf(b.priority));
  }

  isMuted(priority) {
    return this.allMuted || this.mute === "everything" || (this.mute === "but warnings" && priority !== "warning");
  }
}
