"use strict";
/* Two scores in turn. First their courses: so many measures of the one, the same of the other,
   and on. */
const weave = (() => {
  const SIDES = ["before", "after"];

  /* Places of both that belong together, by measure and pass, in the order of play. */
  function paired(before, after) {
    const key = (measure) => `${measure.index}.${measure.pass}`;
    const places = new Map(before.measures.map((measure, place) => [key(measure), place]));
    const pairs = [];
    let next = 0;
    after.measures.forEach((measure, place) => {
      const partner = places.get(key(measure));
      if (partner === undefined || partner < next) {
        pairs.push([null, place]);
        return;
      }
      for (; next < partner; next += 1) pairs.push([next, null]);
      pairs.push([partner, place]);
      next = partner + 1;
    });
    for (; next < before.measures.length; next += 1) pairs.push([next, null]);
    return pairs;
  }

  function endOf(course, place) {
    return place + 1 < course.measures.length ? course.measures[place + 1].at : course.end;
  }

  /* The legs: runs of neighbouring places of one side. */
  function legs(pairs, first, every) {
    const found = [];
    for (let at = first; at < pairs.length; at += every) {
      const group = pairs.slice(at, at + every);
      SIDES.forEach((side, number) => {
        let leg = null;
        for (const place of group.map((pair) => pair[number]).filter((p) => p !== null)) {
          if (leg && place === leg.last + 1) {
            leg.last = place;
          } else {
            leg = { number, side, first: place, last: place };
            found.push(leg);
          }
        }
      });
    }
    return found;
  }

  function grouped(items) {
    const groups = new Map();
    for (const item of items) {
      if (!groups.has(item.place)) groups.set(item.place, []);
      groups.get(item.place).push(item);
    }
    return groups;
  }

  /* The timeline that is heard: from the pair number `first` on, `every` measures at a time. */
  function weave(before, after, { every = 1, pairs, first = 0 } = {}) {
    const courses = [before, after];
    const plucks = courses.map((course) => grouped(course.plucks));
    const moves = courses.map((course) => grouped(course.timeline.moves));
    const woven = {
      ...after.timeline,
      columns: ["at", "lit", "until", "midi", "string", "loudness", "touch", "harp", "place",
        "notes", "side"],
      measures: [], plucks: [], moves: [], initial: [], tempo: [],
    };
    const row = (pluck, shift, end, harp, place, side) => [
      pluck.at + shift,
      Math.min(pluck.lit + shift, end),
      Math.min(pluck.until === null ? Infinity : pluck.until + shift, end),
      pluck.midi, pluck.string, pluck.loudness, pluck.touch, harp, place, pluck.notes, side,
    ];
    const run = legs(pairs ?? paired(before, after), first, every);
    const harps = before.timeline.initial.length;
    courses.forEach((course, number) => {
      const leg = run.find((one) => one.number === number);
      const setting = course.timeline.initial.map((one) => ({ ...one }));
      for (const move of course.timeline.moves) {
        if (leg && move.place < leg.first) setting[move.harp][move.string] = move.position;
      }
      woven.initial.push(...setting);
    });
    let now = 0;
    for (const { number, side, first: begin, last } of run) {
      const course = courses[number];
      const shift = now - course.startOf(begin);
      const end = endOf(course, last) + shift;
      for (let place = begin; place <= last; place += 1) {
        const measure = course.measures[place];
        const heard = woven.measures.length;
        woven.measures.push({
          ...measure, at: measure.at + shift, from: measure.from + shift, side,
        });
        for (const pluck of plucks[number].get(place) ?? []) {
          woven.plucks.push(row(pluck, shift, end, pluck.harp + number * harps, heard, side));
        }
        for (const move of moves[number].get(place) ?? []) {
          const harp = move.harp + number * harps;
          woven.moves.push({ ...move, at: move.at + shift, harp, place: heard, side });
        }
      }
      now = end;
    }
    woven.plucks.sort((one, other) => one[0] - other[0]);
    woven.end = now;
    return woven;
  }

  weave.paired = paired;
  return weave;
})();

const InTurn = (() => {
  /* Two scores in turn, so many measures of the one and the same of the other. Levers are counted
     through: the harps of the first score, then those of the second. */
  class InTurn {
    #courses;
    #harps;
    #calls;
    #every;
    #pairs;
    #listening;
    #side = null;
    #speed = 1;
    #level = 1;
    #clicks;
    #told;

    constructor(before, after, calls = {}) {
      this.#courses = [new Course(before), new Course(after)];
      this.#harps = before.initial.length;
      this.#calls = calls;
      this.#every = rounded(calls.every);
      this.#pairs = calls.pairs ?? weave.paired(...this.#courses);
      this.#clicks = calls.clicks !== false;
      this.#told = [...before.initial, ...after.initial].map((setting) => ({ ...setting }));
      this.#listening = this.#from(0);
    }

    play(index, pass = 1) {
      if (index !== undefined) this.#take(index, pass);
      return this.#listening.play();
    }

    pause() {
      this.#listening.pause();
    }

    seek(index, pass = 1) {
      const { playing } = this.#listening.state;
      this.#take(index, pass);
      const { index: first, pass: nth } = this.#listening.state;
      if (playing) this.#listening.play();
      else this.#listening.seek(first, nth);
    }

    /* How many measures before the turn changes. */
    every(measures) {
      if (measures !== undefined) {
        this.#every = rounded(measures);
        const { index, pass } = this.#listening.state;
        this.seek(index, pass);
      }
      return this.#every;
    }

    speed(factor) {
      this.#speed = this.#listening.speed(factor);
      return this.#speed;
    }

    volume(level) {
      this.#level = level;
      this.#listening.volume(level);
    }

    clicks(wanted) {
      this.#clicks = wanted;
      this.#listening.clicks(wanted);
    }

    get state() {
      return { ...this.#listening.state, side: this.#side };
    }

    leversAt(index, pass = 1) {
      return this.#courses.flatMap((course) => {
        const place = course.find(index, pass);
        return course.leversAt(place < 0 ? course.end : course.measures[place].at);
      });
    }

    close() {
      this.#listening.close();
    }

    #take(index, pass) {
      this.#listening.close();
      const [before, after] = this.#courses.map((course) => course.find(index, pass));
      const pair = this.#pairs.findIndex(([one, other]) => (
        other === null ? after < 0 && one === before : other === after
      ));
      this.#listening = this.#from(Math.max(pair, 0));
    }

    #from(first) {
      const [before, after] = this.#courses;
      const woven = weave(before, after, { every: this.#every, pairs: this.#pairs, first });
      this.#tell(woven.initial);
      const listening = new Listening(woven, {
        clicks: this.#clicks,
        onNote: (note, on, side) => this.#calls.onNote?.(note, on, side),
        onLever: (string, position, harp) => this.#tellLever(string, position, harp),
        onMeasure: (index, pass, side) => {
          if (side !== this.#side) this.#calls.onTurn?.(side);
          this.#side = side;
          this.#calls.onMeasure?.(index, pass, side);
        },
        onEnd: () => this.#calls.onEnd?.(),
      });
      listening.speed(this.#speed);
      listening.volume(this.#level);
      return listening;
    }

    #tell(levers) {
      levers.forEach((setting, harp) => {
        for (const [string, position] of Object.entries(setting)) {
          if (this.#told[harp][string] !== position) this.#tellLever(string, position, harp);
        }
      });
    }

    #tellLever(string, position, harp) {
      this.#told[harp][string] = position;
      const isBefore = harp < this.#harps;
      const number = isBefore ? harp : harp - this.#harps;
      this.#calls.onLever?.(string, position, number, isBefore ? "before" : "after");
    }
  }

  function rounded(measures) {
    return Math.max(Math.round(Number(measures) || 1), 1);
  }

  return InTurn;
})();
