"use strict";
/* The course of a piece: what happens when, and where a measure lies in it. Times are seconds at
   the written tempo. Nothing here sounds or draws. */
const Course = (() => {
  /* At one moment: lights go out, strings are stopped, levers move, a measure begins, a string
     is plucked. */
  const ORDER = { off: 0, stop: 1, move: 2, measure: 3, pluck: 4 };

  /* Seconds that a note is lit at least. */
  const SHORTEST = 0.05;

  /* The first place in a sorted list whose time is not before the one given. */
  function firstFrom(events, time) {
    let low = 0;
    let high = events.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (events[middle].at < time) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  class Course {
    constructor(timeline) {
      const column = Object.fromEntries(timeline.columns.map((name, place) => [name, place]));
      this.timeline = timeline;
      this.measures = timeline.measures;
      this.end = timeline.end;
      this.plucks = timeline.plucks.map((row) => ({
        at: row[column.at],
        lit: row[column.lit],
        until: row[column.until],
        midi: row[column.midi],
        string: row[column.string],
        loudness: row[column.loudness],
        touch: row[column.touch],
        harp: row[column.harp],
        place: row[column.place],
        notes: row[column.notes],
        side: column.side === undefined ? undefined : row[column.side],
      }));
      this.events = this.#events();
      this.begin = Math.min(0, this.events.length ? this.events[0].at : 0);
      /* Seconds that any string rings at most. */
      this.longest = timeline.rings[0][1];
    }

    #events() {
      const events = [];
      for (const pluck of this.plucks) {
        const { at, until, lit, place } = pluck;
        events.push({ at, kind: "pluck", place, pluck });
        if (until !== null) events.push({ at: until, kind: "stop", place, pluck });
        if (pluck.notes.length) {
          events.push({ at: Math.max(lit, at + SHORTEST), kind: "off", place, pluck });
        }
      }
      for (const move of this.timeline.moves) {
        events.push({ at: move.at, kind: "move", place: move.place, move });
      }
      this.measures.forEach((measure, place) => {
        events.push({ at: measure.at, kind: "measure", place, measure });
      });
      return events.sort((one, other) => one.at - other.at || ORDER[one.kind] - ORDER[other.kind]);
    }

    /* Seconds until a string is a thousandth as loud, between the sounds that are listed. */
    ring(midi) {
      const listed = this.timeline.rings;
      if (midi <= listed[0][0]) return listed[0][1];
      for (let i = 1; i < listed.length; i += 1) {
        const [low, long] = listed[i - 1];
        const [high, short] = listed[i];
        if (midi <= high) return long + ((short - long) * (midi - low)) / (high - low);
      }
      return listed[listed.length - 1][1];
    }

    /* The place of a measure in the order of play; of one that is not played on that pass, its
       first; of one that is never played, the next that is; else -1. */
    find(index, pass = 1) {
      const first = this.measures.findIndex((measure) => measure.index === index);
      if (first < 0) return this.measures.findIndex((measure) => measure.index > index);
      const exact = this.measures.findIndex((m) => m.index === index && m.pass === pass);
      return exact < 0 ? first : exact;
    }

    /* Where playing begins that is to begin with a measure: with its small notes, if any. */
    startOf(place) {
      return this.measures[place].from;
    }

    /* The place that is played at a time. */
    placeAt(time) {
      const next = firstFrom(this.measures, time);
      const begins = next < this.measures.length && this.measures[next].at === time;
      return Math.max(begins ? next : next - 1, 0);
    }

    /* How the levers stand for a note at a time, one object a harp. */
    leversAt(time) {
      const levers = this.timeline.initial.map((setting) => ({ ...setting }));
      for (const move of this.timeline.moves) {
        if (move.at > time) break;
        levers[move.harp][move.string] = move.position;
      }
      return levers;
    }

    /* The number of the first event at a time or later. */
    from(time) {
      return firstFrom(this.events, time);
    }
  }

  Course.firstFrom = firstFrom;
  return Course;
})();
