// A sound for each level, told apart by how many tones there are and how they go, not by pitch alone.
// Takes: a level.  Gives: how long its sound lasts, in seconds; 0 for a level that has none.

const PATTERNS = {   // [begins at, lasts, Hz]
  warning: [[0, 0.12, 880], [0.16, 0.12, 660], [0.32, 0.12, 880], [0.48, 0.12, 660], [0.64, 0.12, 880], [0.8, 0.12, 660]],
  caution: [[0, 0.2, 700], [0.3, 0.2, 700]],
  advisory: [[0, 0.3, 520]],
};
const LOUD = 0.2;
let context = null;

export function sound(level) {
  const pattern = PATTERNS[level];
  if (!pattern) return 0;
  context ??= new AudioContext();
  context.resume();
  const now = context.currentTime + 0.02;
  for (const [at, lasts, hertz] of pattern) tone(now + at, lasts, hertz);
  return Math.max(...pattern.map(([at, lasts]) => at + lasts)) + 0.1;
}

function tone(at, lasts, hertz) {
  const oscillator = new OscillatorNode(context, { type: "triangle", frequency: hertz });
  const gain = new GainNode(context, { gain: 0 });
  gain.gain.setTargetAtTime(LOUD, at, 0.01);
  gain.gain.setTargetAtTime(0, at + lasts - 0.03, 0.01);
  oscillator.connect(gain).connect(context.destination);
  oscillator.start(at);
  oscillator.stop(at + lasts);
}
