// The sound of the player: reeds, clicks and the accompaniment. Times are clock times, in seconds. `reed`, `click` and
// `hold` each return a list of their sources, which the player may stop early. In a browser without sound the list is
// empty, and the clock still runs.
function instrument() {
"use strict";

// The strengths of the harmonics, after the constant part. A reed has many strong harmonics. The accompaniment is
// softer and rounder.
const REED = [0, 1, 0.82, 0.66, 0.42, 0.36, 0.22, 0.18, 0.12, 0.09, 0.06, 0.05, 0.03];
const SOFT = [0, 1, 0.3, 0.18, 0.06];
let sound = null;

function begin(level) {
  if (!sound && window.AudioContext) {
    const context = new AudioContext();
    const out = context.createDynamicsCompressor();
    const wave = harmonics => context.createPeriodicWave(new Float32Array(harmonics.length), new Float32Array(harmonics));
    const volume = new GainNode(context, {gain: 0.5}), along = new GainNode(context);
    out.connect(context.destination);
    volume.connect(out);
    along.connect(out);
    sound = {context, volume, along, reed: wave(REED), soft: wave(SOFT)};
  }
  if (!sound) return;
  sound.context.resume();
  loud(level);
}

// Sets the loudness of the accompaniment, from 0 to 1.
function loud(level) {
  if (sound) sound.along.gain.value = level * level;
}

const clock = () => sound ? sound.context.currentTime : performance.now() / 1000;
// Returns the clock time of the sound that is heard now: the sound was made a little earlier, if the browser tells how
// much.
const heard = () => clock() - (sound && sound.context.outputLatency || 0);
const hertz = midi => 440 * 2 ** ((midi - 69) / 12);

function reed(midi, start, end) {
  if (!sound) return [];
  const {context, volume} = sound;
  const pitch = hertz(midi);
  // A short silence separates the note from the next.
  const stop = Math.max(start + 0.03, end - Math.min(0.035, (end - start) * 0.15));
  const source = new OscillatorNode(context, {frequency: pitch});
  source.setPeriodicWave(sound.reed);
  const mouth = new BiquadFilterNode(context, {type: "lowpass", frequency: Math.min(9000, pitch * 3), Q: 0.6});
  const breath = new GainNode(context, {gain: 0});
  // A reed needs a moment to speak, and its tone brightens as it begins.
  const attack = Math.min(0.04, (stop - start) / 3);
  breath.gain.setValueAtTime(0, start);
  breath.gain.linearRampToValueAtTime(0.5, start + attack);
  breath.gain.setTargetAtTime(0.42, start + attack, 0.3);
  breath.gain.setTargetAtTime(0, stop - 0.015, 0.012);
  mouth.frequency.setValueAtTime(pitch * 2, start);
  mouth.frequency.linearRampToValueAtTime(Math.min(9000, pitch * 5), start + attack * 2);
  source.connect(mouth).connect(breath).connect(volume);
  source.start(start);
  source.stop(stop + 0.08);
  return [source];
}

function click(start, strong) {
  if (!sound) return [];
  const {context, volume} = sound;
  const source = new OscillatorNode(context, {type: "triangle", frequency: strong ? 1600 : 1100});
  const knock = new GainNode(context, {gain: 0});
  knock.gain.setValueAtTime(strong ? 0.7 : 0.45, start);
  knock.gain.exponentialRampToValueAtTime(0.001, start + 0.05);
  source.connect(knock).connect(volume);
  source.start(start);
  source.stop(start + 0.06);
  return [source];
}

// Sounds several notes together, softly.
function hold(pitches, start, end) {
  if (!sound) return [];
  const {context, along, soft} = sound;
  const swell = new GainNode(context, {gain: 0});
  const rise = Math.min(0.06, (end - start) / 3);
  swell.gain.setValueAtTime(0, start);
  swell.gain.linearRampToValueAtTime(0.5 / Math.sqrt(pitches.length), start + rise);
  swell.gain.setTargetAtTime(0, end - 0.06, 0.03);
  swell.connect(along);
  return pitches.map(midi => {
    const source = new OscillatorNode(context, {frequency: hertz(midi)});
    source.setPeriodicWave(soft);
    source.connect(swell);
    source.start(start);
    source.stop(end + 0.15);
    return source;
  });
}

return {begin, loud, clock, heard, reed, click, hold, isThere: () => Boolean(sound), end: () => { if (sound) sound.context.close(); }};
}
