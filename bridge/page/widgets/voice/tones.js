// Plays a sound for each level; levels differ in the number and rhythm of tones, not only in pitch.
// Takes: a level.  Gives: the length of its sound in seconds, 0 for a level without a sound.

const PATTERNS = {   // [start, length, Hz]
  warning: [[0, 0.12, 880], [0.16, 0.12, 660], [0.32, 0.12, 880], [0.48, 0.12, 660], [0.64, 0.12, 880], [0.8, 0.12, 660]],
  caution: [[0, 0.2, 700], [0.3, 0.2, 700]],
  advisory: [[0, 0.3, 520]],
};
const VOLUME = 0.2;
let context = null;

export function sound(level) {
  const pattern = PATTERNS[level];
  if (!pattern) return 0;
  context ??= new AudioContext();
  context.resume();
  const now = context.currentTime + 0.02;
  for (const [start, length, hertz] of pattern) tone(now + start, length, hertz);
  return Math.max(...pattern.map(([start, length]) => start + length)) + 0.1;
}

function tone(start, length, hertz) {
  const oscillator = new OscillatorNode(context, { type: "triangle", frequency: hertz });
  const gain = new GainNode(context, { gain: 0 });
  gain.gain.setTargetAtTime(VOLUME, start, 0.01);
  gain.gain.setTargetAtTime(0, start + length - 0.03, 0.01);
  oscillator.connect(gain).connect(context.destination);
  oscillator.start(start);
  oscillator.stop(start + length);
}
