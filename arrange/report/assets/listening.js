"use strict";
/* The player: sounds what a timeline says, from any measure, at any speed, and tells the page
   which notes, levers and measures are heard. */
const Listening = (() => {
  /* Seconds that sounds are scheduled ahead, so that a slow or hidden page does not stumble. */
  const AHEAD = 1.5;
  /* Seconds between two looks at the clock. */
  const TICK = 0.025;
  /* Seconds from asking to the first sound. */
  const LEAD = 0.08;
  /* Seconds after the last measure until the piece is over; its strings ring on. */
  const REST = 0.5;
  /* Seconds without playing after which the sound card is let go: longer than any string. */
  const IDLE = 15;
  const SLOWEST = 0.25;
  const FASTEST = 2;

  /* One context for the whole page, made when something is first played. */
  const stage = { context: null, plucking: null, playing: new Set(), idle: 0 };

  async function opened(player) {
    if (!stage.context) {
      const Context = window.AudioContext || window.webkitAudioContext;
      stage.context = new Context();
      stage.plucking = new Plucking(stage.context);
    }
    clearTimeout(stage.idle);
    stage.playing.add(player);
    await stage.context.resume();
    return stage;
  }

  function left(player) {
    stage.playing.delete(player);
    clearTimeout(stage.idle);
    if (!stage.context || stage.playing.size) return;
    stage.idle = setTimeout(() => stage.context.suspend(), IDLE * 1000);
  }

  /* A string of one of the harps that are heard. */
  function nameOf(pluck) {
    return `${pluck.side}.${pluck.harp}.${pluck.string}`;
  }

  /* Strings and levers on their way to the ear. */
  class Sounding {
    #course;
    #plucking;
    #strings = new Map();
    #voices = new Map();

    constructor(course, plucking) {
      this.#course = course;
      this.#plucking = plucking;
      this.clicks = true;
    }

    prepare(pluck) {
      return this.#plucking.prepare(pluck.midi, pluck.touch, this.#course.ring(pluck.midi));
    }

    /* Lets an event be heard at a time of the context. */
    send(event, time) {
      if (event.kind === "pluck") {
        const { pluck } = event;
        const string = nameOf(pluck);
        this.#voices.get(this.#strings.get(string))?.stop(time, true);
        const ring = this.#course.ring(pluck.midi);
        this.#voices.set(pluck, this.#plucking.pluck(pluck, ring, time));
        this.#strings.set(string, pluck);
      } else if (event.kind === "stop") {
        this.#voices.get(event.pluck)?.stop(time);
      } else if (event.kind === "move" && this.clicks) {
        this.#voices.set(event.move, this.#plucking.click(time));
      }
    }

    /* Takes back what has not been heard yet. */
    takeBack(now) {
      this.#strings.clear();
      for (const [key, voice] of this.#voices) {
        voice.takeBack(now);
        if (voice.time > now) this.#voices.delete(key);
        else if (key.string && key.midi) this.#strings.set(nameOf(key), key);
      }
    }

    /* Damps everything. */
    damp(now) {
      this.takeBack(now);
      for (const voice of this.#voices.values()) voice.stop(now);
      this.#voices.clear();
      this.#strings.clear();
    }

    /* Forgets what can no longer be heard. */
    forget(now) {
      for (const [key, voice] of this.#voices) {
        if (voice.time + this.#course.longest < now) this.#voices.delete(key);
      }
    }
  }

  class Listening {
    #course;
    #calls;
    #sounding = null;
    #clicks;
    #speed = 1;
    #level = 1;
    #at;
    #first = 0;
    #place = -1;
    #anchor = null;
    #sent = 0;
    #shown = 0;
    #ready = 0;
    #lit = new Map();
    #told;
    #timer = 0;
    #asked = 0;

    constructor(timeline, calls = {}) {
      this.#course = new Course(timeline);
      this.#calls = calls;
      this.#clicks = calls.clicks !== false;
      this.#at = this.#course.begin;
      this.#told = this.#course.timeline.initial.map((setting) => ({ ...setting }));
    }

    /* Plays from a measure, or goes on; to be called in the user's own click or key. */
    async play(index, pass = 1) {
      this.#asked += 1;
      const asked = this.#asked;
      const { context, plucking } = await opened(this);
      if (asked !== this.#asked) return;
      if (this.#anchor) {
        this.#at = this.#now();
        this.#halt();
      }
      this.#sounding ??= new Sounding(this.#course, plucking);
      this.#sounding.clicks = this.#clicks;
      plucking.volume(this.#level);
      this.#sounding.damp(context.currentTime);
      this.#stand(index, pass);
      this.#begin();
    }

    pause() {
      this.#asked += 1;
      if (this.#anchor) {
        this.#at = this.#now();
        this.#halt();
        this.#sounding.damp(stage.context.currentTime);
      }
      left(this);
    }

    seek(index, pass = 1) {
      const isPlaying = this.#anchor !== null;
      if (isPlaying) {
        this.#halt();
        this.#sounding.damp(stage.context.currentTime);
      }
      this.#stand(index, pass);
      if (isPlaying) this.#begin();
    }

    speed(factor) {
      if (factor === undefined) return this.#speed;
      const wanted = Math.min(Math.max(Number(factor) || 1, SLOWEST), FASTEST);
      if (this.#anchor) {
        const now = stage.context.currentTime;
        if (now > this.#anchor.audio) this.#anchor = { audio: now, score: this.#now() };
        this.#sounding.takeBack(now);
        this.#sent = this.#course.from(this.#anchor.score);
      }
      this.#speed = wanted;
      return wanted;
    }

    volume(level) {
      this.#level = Math.min(Math.max(level, 0), 1);
      if (this.#anchor) stage.plucking.volume(this.#level);
    }

    clicks(wanted) {
      this.#clicks = wanted;
      if (!this.#sounding) return;
      this.#sounding.clicks = wanted;
      if (this.#anchor) this.speed(this.#speed);
    }

    get state() {
      const at = this.#now();
      const place = Math.max(this.#place, 0);
      const measure = this.#course.measures[place];
      return {
        playing: this.#anchor !== null,
        place,
        index: measure ? measure.index : -1,
        pass: measure ? measure.pass : 1,
        at,
        speed: this.#speed,
        levers: this.#course.leversAt(at),
      };
    }

    leversAt(index, pass = 1) {
      const place = this.#course.find(index, pass);
      return this.#course.leversAt(place < 0 ? this.#course.end : this.#course.measures[place].at);
    }

    close() {
      this.pause();
      this.#sounding = null;
    }

    #now() {
      if (!this.#anchor) return this.#at;
      const passed = stage.context.currentTime - this.#anchor.audio;
      return this.#anchor.score + Math.max(passed, 0) * this.#speed;
    }

    /* Stands at a measure without playing; without one, where it was, or at the beginning. */
    #stand(index, pass) {
      const course = this.#course;
      if (index !== undefined) {
        const place = course.find(index, pass);
        this.#at = place < 0 ? course.end : course.startOf(place);
        this.#first = Math.max(place, 0);
      } else if (this.#at >= course.end) {
        this.#at = course.begin;
        this.#first = 0;
      }
      const place = index === undefined ? course.placeAt(this.#at) : this.#first;
      const levers = course.leversAt(Math.max(this.#at, course.measures[place]?.at ?? 0));
      this.#tellMeasure(place);
      this.#tellLevers(levers);
    }

    #begin() {
      const now = stage.context.currentTime;
      this.#sent = this.#shown = this.#ready = this.#course.from(this.#at);
      this.#anchor = { audio: now, score: this.#at };
      this.#prepare(AHEAD, Infinity);
      this.#anchor.audio = stage.context.currentTime + LEAD;
      this.#tick();
      this.#timer = setInterval(() => this.#tick(), TICK * 1000);
    }

    #halt() {
      clearInterval(this.#timer);
      this.#anchor = null;
      for (const { note, side } of this.#lit.values()) this.#calls.onNote?.(note, false, side);
      this.#lit.clear();
    }

    #tick() {
      const { context } = stage;
      const { events } = this.#course;
      const horizon = context.currentTime + AHEAD;
      for (; this.#sent < events.length; this.#sent += 1) {
        const event = events[this.#sent];
        const time = this.#anchor.audio + (event.at - this.#anchor.score) / this.#speed;
        if (time > horizon) break;
        if (event.kind !== "pluck" || event.place >= this.#first) {
          this.#sounding.send(event, Math.max(time, context.currentTime));
        }
      }
      const { audio, score } = this.#anchor;
      const heard = context.currentTime - (context.outputLatency || 0);
      const now = score + (heard - audio) * this.#speed;
      for (; this.#shown < events.length && events[this.#shown].at <= now; this.#shown += 1) {
        this.#show(events[this.#shown]);
        if (!this.#anchor) return;
      }
      this.#prepare(10, 1);
      this.#sounding.forget(context.currentTime);
      if (now > this.#course.end + REST) this.#finish();
    }

    /* Makes strings ready that will soon be plucked, a few at a time. */
    #prepare(ahead, most) {
      const { events } = this.#course;
      const until = this.#now() + ahead * this.#speed;
      let made = 0;
      for (; this.#ready < events.length && events[this.#ready].at < until; this.#ready += 1) {
        const event = events[this.#ready];
        if (event.kind !== "pluck") continue;
        if (made >= most) return;
        if (this.#sounding.prepare(event.pluck)) made += 1;
      }
    }

    #finish() {
      this.#halt();
      this.#at = this.#course.end;
      left(this);
      this.#calls.onEnd?.();
    }

    #show(event) {
      const { kind, place } = event;
      if (kind === "pluck" && place >= this.#first) this.#light(event.pluck, 1);
      else if (kind === "off") this.#light(event.pluck, -1);
      else if (kind === "measure" && place >= this.#first) this.#tellMeasure(place);
      else if (kind === "move") this.#tellLever(event.move);
    }

    /* A note is lit while any of its plucks lasts. */
    #light(pluck, change) {
      const { side } = pluck;
      for (const note of pluck.notes) {
        const key = `${side} ${note}`;
        const lit = this.#lit.get(key) ?? { plucks: new Set(), note, side };
        const was = lit.plucks.size > 0;
        if (change > 0) lit.plucks.add(pluck);
        else lit.plucks.delete(pluck);
        const is = lit.plucks.size > 0;
        if (is) this.#lit.set(key, lit);
        else this.#lit.delete(key);
        if (was !== is) this.#calls.onNote?.(note, is, side);
      }
    }

    #tellMeasure(place) {
      const measure = this.#course.measures[place];
      if (!measure || place === this.#place) return;
      this.#place = place;
      this.#calls.onMeasure?.(measure.index, measure.pass, measure.side);
    }

    #tellLevers(levers) {
      levers.forEach((setting, harp) => {
        for (const [string, position] of Object.entries(setting)) {
          this.#tellLever({ harp, string, position });
        }
      });
    }

    #tellLever({ harp, string, position }) {
      if (this.#told[harp][string] === position) return;
      this.#told[harp][string] = position;
      this.#calls.onLever?.(string, position, harp);
    }
  }

  Listening.Sounding = Sounding;
  return Listening;
})();
