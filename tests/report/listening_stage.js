"use strict";
/* A stage for the player without a sound card: its clock is turned by hand, and it keeps what it
   was asked to sound. Stands behind the player's own script. */
const asked = [];
const told = [];
let clock = null;
let ticking = [];

globalThis.setInterval = (work) => {
  ticking.push(work);
  return ticking.length;
};
globalThis.clearInterval = (number) => {
  if (number) ticking[number - 1] = () => {};
};
globalThis.setTimeout = () => 0;
globalThis.clearTimeout = () => {};

function piece() {
  const param = { value: 0, setTargetAtTime() {}, cancelScheduledValues() {} };
  const names = ["gain", "frequency", "Q", "threshold", "knee", "ratio", "attack", "release"];
  return {
    ...Object.fromEntries(names.map((name) => [name, param])),
    connect() {}, disconnect() {}, start() {}, stop() {},
  };
}

class StageContext {
  constructor() {
    this.currentTime = 0;
    this.sampleRate = 4000;
    this.outputLatency = 0;
    clock = this;
    for (const kind of ["Gain", "DynamicsCompressor", "BiquadFilter", "Convolver", "WaveShaper",
      "BufferSource"]) {
      this[`create${kind}`] = piece;
    }
  }

  createBuffer(channels, length, rate) {
    return {
      duration: length / rate,
      getChannelData: () => new Float32Array(length),
      copyToChannel() {},
    };
  }

  async resume() {}

  async suspend() {}
}
globalThis.window = { AudioContext: StageContext };

const plucked = Plucking.prototype.pluck;
Plucking.prototype.pluck = function pluck(row, ring, time) {
  const voice = plucked.call(this, row, ring, time);
  const entry = { midi: row.midi, time, stopped: null, quickly: false, taken: false };
  asked.push(entry);
  const { stop, takeBack } = voice;
  voice.stop = (when, quickly) => {
    entry.stopped = when;
    entry.quickly = quickly === true;
    stop.call(voice, when, quickly);
  };
  voice.takeBack = (now) => {
    if (time > now) entry.taken = true;
    else if (entry.stopped > now) entry.stopped = null;
    takeBack.call(voice, now);
  };
  return voice;
};

/* What the page is told; a side only where there are two. */
const telling = (kind) => (...row) => told.push([kind, ...row.filter((x) => x !== undefined)]);
const calls = {
  onNote: telling("note"),
  onLever: telling("lever"),
  onMeasure: telling("measure"),
  onTurn: telling("turn"),
  onEnd: telling("end"),
};

/* Lets the clock run to a time in steps of a fortieth of a second. */
function run(until) {
  while (clock.currentTime < until - 1e-9) {
    clock.currentTime = Math.min(clock.currentTime + 0.025, until);
    for (const work of [...ticking]) work();
  }
}

/* What was or will be heard: key number and time, to the millisecond. */
function heard() {
  return asked.filter((entry) => !entry.taken)
    .map(({ midi, time }) => [midi, Math.round(time * 1000) / 1000]);
}
