"use strict";
/* Plucked strings, made here: each a delay line of one period that is fed back through a filter,
   so that high partials die first; its length is exact to a fraction of a sample (Karplus and
   Strong 1983; Jaffe and Smith 1983). What is chosen by ear is house judgement. */
const Plucking = (() => {
  const SILENCE = 10 ** (-60 / 20);
  /* The eighth partial rings a quarter as long as the first. */
  const PARTIAL = 8;
  const SHORTER = 4;
  /* Where the string is plucked, as a part of its length, and how fast its partials fall off. */
  const TOUCHES = {
    "": { place: 0.38, fall: 1.5, soft: 2600, ring: 1, level: 1 },
    swept: { place: 0.32, fall: 1.4, soft: 3200, ring: 1, level: 1 },
    damped: { place: 0.38, fall: 1.6, soft: 2200, ring: 0.5, level: 1 },
    table: { place: 0.07, fall: 1.0, soft: 6000, ring: 0.8, level: 1.7 },
    harmonic: { place: 0.5, fall: 2.6, soft: 1800, ring: 0.8, level: 0.8 },
  };
  const ATTACK = 0.0015;

  function hertz(midi) {
    return 440 * 2 ** ((midi - 69) / 12);
  }

  /* The same numbers every time: a linear congruential sequence between -1 and 1. */
  function noise(seed) {
    let state = seed >>> 0;
    return () => {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
      return state / 2147483648 - 1;
    };
  }

  /* How much a one-pole low-pass leaves of a partial, and by how many samples it delays it. */
  function gain(pole, angle) {
    return (1 - pole) / Math.hypot(1 - pole * Math.cos(angle), pole * Math.sin(angle));
  }

  function delay(pole, angle) {
    return Math.atan2(pole * Math.sin(angle), 1 - pole * Math.cos(angle)) / angle;
  }

  /* The pole that makes the high partial die so much sooner than the first. */
  function poleFor(angle, loss) {
    const high = Math.min(PARTIAL * angle, Math.PI * 0.9);
    let low = 0;
    let top = 0.95;
    for (let i = 0; i < 40; i += 1) {
      const pole = (low + top) / 2;
      if (gain(pole, high) / gain(pole, angle) > loss) low = pole;
      else top = pole;
    }
    return low;
  }

  /* One period of the plucked shape. */
  function shape(count, period, frequency, touch) {
    const wave = new Float64Array(count);
    const partials = Math.max(1, Math.min(60, Math.floor(period / 2.5)));
    for (let k = 1; k <= partials; k += 1) {
      const strength = (Math.sin(Math.PI * k * touch.place) / k ** touch.fall)
        * Math.exp(-(((k * frequency) / touch.soft) ** 2) / 6);
      for (let i = 0; i < count; i += 1) {
        wave[i] += strength * Math.sin((2 * Math.PI * k * i) / period);
      }
    }
    return wave;
  }

  /* A string as it sounds by itself: samples between -1 and 1, for `ring` seconds. */
  function rendered(midi, kind, ring, rate) {
    const touch = TOUCHES[kind] ?? TOUCHES[""];
    const frequency = hertz(midi);
    const period = rate / frequency;
    const angle = (2 * Math.PI) / period;
    const seconds = ring * touch.ring;
    const perPeriod = SILENCE ** (1 / (frequency * seconds));
    const pole = poleFor(angle, SILENCE ** ((SHORTER - 1) / (frequency * seconds)));
    const back = Math.min(perPeriod / gain(pole, angle), 0.99999);
    const rest = period - delay(pole, angle);
    const whole = Math.floor(rest - 0.3);
    const part = rest - whole;
    const bend = Math.sin(((1 - part) * angle) / 2) / Math.sin(((1 + part) * angle) / 2);
    const line = shape(whole, period, frequency, touch);
    const length = Math.ceil(seconds * rate);
    const samples = new Float32Array(length);
    let at = 0;
    let filtered = 0;
    let input = 0;
    let output = 0;
    for (let i = 0; i < length; i += 1) {
      const now = line[at];
      samples[i] = now;
      filtered = (1 - pole) * now + pole * filtered;
      output = bend * (filtered - output) + input;
      input = filtered;
      line[at] = back * output;
      at = at + 1 === whole ? 0 : at + 1;
    }
    return finished(samples, midi, rate);
  }

  /* The finger leaving the string, an attack without a click, an end without one, one loudness. */
  function finished(samples, midi, rate) {
    const next = noise(midi + 1);
    const finger = Math.min(Math.round(0.012 * rate), samples.length);
    let peak = 0;
    for (let i = 0; i < samples.length; i += 1) peak = Math.max(peak, Math.abs(samples[i]));
    let dull = 0;
    for (let i = 0; i < finger; i += 1) {
      dull += 0.25 * (next() - dull);
      samples[i] += 0.06 * peak * dull * (1 - i / finger);
    }
    const attack = Math.round(ATTACK * rate);
    const fade = Math.min(Math.round(0.05 * rate), samples.length);
    for (let i = 0; i < attack && i < samples.length; i += 1) samples[i] *= i / attack;
    for (let i = 0; i < fade; i += 1) samples[samples.length - 1 - i] *= i / fade;
    const loudest = peak || 1;
    for (let i = 0; i < samples.length; i += 1) samples[i] *= 0.9 / (1.1 * loudest);
    return samples;
  }

  /* A room that is heard rather than noticed: a second of noise that dies away. */
  function room(context) {
    const length = Math.round(1.1 * context.sampleRate);
    const buffer = context.createBuffer(2, length, context.sampleRate);
    for (let channel = 0; channel < 2; channel += 1) {
      const next = noise(7 + channel);
      const samples = buffer.getChannelData(channel);
      let dull = 0;
      for (let i = 0; i < length; i += 1) {
        dull += 0.35 * (next() - dull);
        samples[i] = dull * Math.exp((-6.9 * i) / length);
      }
    }
    return buffer;
  }

  /* Straight up to two thirds, then rounded so that nothing passes one. */
  function rounding() {
    const curve = new Float32Array(2049);
    for (let i = 0; i < curve.length; i += 1) {
      const x = i / 1024 - 1;
      const size = Math.abs(x) * 3;
      const kept = size < 0.66 ? size : 0.66 + 0.32 * Math.tanh((size - 0.66) / 0.32);
      curve[i] = Math.sign(x) * kept;
    }
    return curve;
  }

  /* One sound on its way: it can be stopped, and what has not come yet can be taken back. */
  class Voice {
    #source;
    #level;
    #stopped = Infinity;

    constructor(source, level, time) {
      this.#source = source;
      this.#level = level;
      this.time = time;
    }

    /* `quickly` where the string is plucked again rather than damped. */
    stop(when, quickly = false) {
      if (when > this.#stopped || (when === this.#stopped && !quickly)) return;
      const from = Math.max(when, this.time);
      this.#stopped = when;
      this.#level.gain.cancelScheduledValues(from);
      this.#level.gain.setTargetAtTime(0, from, quickly ? 0.006 : 0.035);
      this.#source.stop(from + (quickly ? 0.06 : 0.35));
    }

    /* Takes back what lies after `now`: the whole sound, or its stop. */
    takeBack(now) {
      if (this.time > now) {
        this.#stopped = now;
        this.#level.disconnect();
        this.#source.stop();
      } else if (this.#stopped > now && this.#stopped < Infinity) {
        this.#stopped = Infinity;
        this.#level.gain.cancelScheduledValues(now);
        this.#source.stop(now + this.#source.buffer.duration);
      }
    }
  }

  class Plucking {
    #context;
    #strings = new Map();
    #out;
    #volume;
    #click = null;

    constructor(context) {
      this.#context = context;
      this.#out = context.createGain();
      this.#volume = context.createGain();
      const limit = context.createDynamicsCompressor();
      limit.threshold.value = -9;
      limit.knee.value = 8;
      limit.ratio.value = 5;
      limit.attack.value = 0.002;
      limit.release.value = 0.2;
      const body = context.createBiquadFilter();
      body.type = "peaking";
      body.frequency.value = 230;
      body.Q.value = 0.8;
      body.gain.value = 3;
      const echo = context.createConvolver();
      echo.buffer = room(context);
      const wet = context.createGain();
      wet.gain.value = 0.35;
      const third = context.createGain();
      third.gain.value = 1 / 3;
      const round = context.createWaveShaper();
      round.curve = rounding();
      this.#out.connect(body);
      body.connect(limit);
      body.connect(echo);
      echo.connect(wet);
      wet.connect(limit);
      limit.connect(third);
      third.connect(round);
      round.connect(this.#volume);
      this.#volume.connect(context.destination);
    }

    volume(level) {
      this.#volume.gain.setTargetAtTime(level, this.#context.currentTime, 0.02);
    }

    /* Makes a string ready; true where it was not. */
    prepare(midi, touch, ring) {
      const key = `${midi}${touch}`;
      if (this.#strings.has(key)) return false;
      const rate = this.#context.sampleRate;
      const samples = rendered(midi, touch, ring, rate);
      const buffer = this.#context.createBuffer(1, samples.length, rate);
      buffer.copyToChannel(samples, 0);
      this.#strings.set(key, buffer);
      return true;
    }

    /* Plucks a string at a time of the context; the sound can be stopped or taken back. */
    pluck({ midi, touch, loudness }, ring, time) {
      this.prepare(midi, touch, ring);
      const source = this.#context.createBufferSource();
      source.buffer = this.#strings.get(`${midi}${touch}`);
      const colour = this.#context.createBiquadFilter();
      colour.type = "lowpass";
      colour.frequency.value = Math.min(900 + 60 * loudness + 2 * hertz(midi), 16000);
      const level = this.#context.createGain();
      level.gain.value = 0.34 * TOUCHES[touch].level * (loudness / 127) ** 1.5;
      source.connect(colour);
      colour.connect(level);
      level.connect(this.#out);
      source.onended = () => level.disconnect();
      source.start(time);
      return new Voice(source, level, time);
    }

    /* A lever at the neck: a short, soft knock. */
    click(time) {
      const rate = this.#context.sampleRate;
      if (!this.#click) {
        const next = noise(3);
        const length = Math.round(0.04 * rate);
        this.#click = this.#context.createBuffer(1, length, rate);
        const samples = this.#click.getChannelData(0);
        for (let i = 0; i < length; i += 1) {
          const tone = Math.sin((2 * Math.PI * 1700 * i) / rate) + 0.5 * next();
          samples[i] = tone * Math.min(i / (0.001 * rate), 1) * Math.exp((-9 * i) / length);
        }
      }
      const source = this.#context.createBufferSource();
      source.buffer = this.#click;
      const level = this.#context.createGain();
      level.gain.value = 0.05;
      source.connect(level);
      level.connect(this.#out);
      source.onended = () => level.disconnect();
      source.start(time);
      return new Voice(source, level, time);
    }
  }

  Plucking.rendered = rendered;
  Plucking.hertz = hertz;
  return Plucking;
})();
