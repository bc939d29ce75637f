"""The edits that carry out what was decided about glissandi."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from arrange.edits import (
    AddRoll,
    AddWords,
    MarkEdit,
    MarkValue,
    NoteEdit,
    NoteValue,
    RemoveMark,
    RemoveNotation,
    RemoveNote,
    SetPitch,
)
from arrange.harp.harp import Harp, Home
from arrange.pitch import Pitch
from arrange.score.model import (
    EventId,
    HandName,
    Mark,
    MarkKind,
    Notation,
    Note,
    Score,
    Sign,
    Sweep,
)
from arrange.score.own import OwnNotes
from arrange.score.plucks import plucks
from arrange.score.reading.sweeps import sweeps
from arrange.score.sweep_words import KINDS
from arrange.study.sweep_choice import SWEEPING, Decision
from arrange.study.sweep_ways import Way, WayKind

SHORT_HAND = {HandName.LEFT: "L.H.", HandName.RIGHT: "R.H."}
LINES = (Sign.GLISSANDO, Sign.SLIDE)


def in_print(pitch: Pitch, *, octave: bool = False) -> str:
    """``E♭`` or ``E♭4``, as it stands on a page."""
    name = pitch.name.replace("b", "♭").replace("#", "♯")
    return f"{name}{pitch.octave}" if octave else name


def tones_in_print(way: Way) -> str:
    """``C D E♭ F G A♭ B♭``: what the letters sound."""
    return " ".join(in_print(Pitch(letter, alter, 4)) for letter, alter in way.tones)


class SweepEdits:
    """Finds the edits for the decisions of one score."""

    def __init__(self, score: Score, harp: Harp, decided: Sequence[Decision]) -> None:
        self._score = score
        self._harp = harp
        self._read = {s.start: s for s in sweeps(score.parts, score.harps)[0]}
        self._marks = {m.id: m for p in score.parts for e in p.measures for m in e.marks}
        self._tied = {
            note: pluck.tied
            for staves in score.harps
            for pluck in plucks(score, staves)
            for note in pluck.tied
        }
        ways = [(d.asked.sweep, d.taken) for d in decided]
        self._spoken = Counter(
            mark for sweep, way in ways if way and way.kind not in SWEEPING for mark in sweep.marks
        )
        self._speaking = Counter(mark for sweep in score.sweeps for mark in sweep.marks)
        self._gone: set[EventId] = set()
        self._rolled: set[EventId] = set()
        self._named: set[tuple[EventId, str]] = set()
        self._serial = max((said.serial for said in _said(self._marks)), default=0)

    def notes(self, sweep: Sweep, way: Way) -> tuple[NoteEdit, ...]:
        """What happens to the notes."""
        if way.run is not None:
            return (way.run, *self._beside_run(sweep, way), *self._end(sweep, way))
        if way.kind is WayKind.ROLLED:
            small = (self._known(i) for i in sweep.notes)
            removed = (RemoveNote(n.id, NoteValue.of(n)) for n in small if n.is_cue or n.is_grace)
            return (*removed, *self._start(sweep, way), *self._end(sweep, way))
        return (*self._start(sweep, way), *self._small(sweep, way), *self._end(sweep, way))

    def marks(
        self, sweep: Sweep, way: Way, hand: HandName, key: Sequence[tuple[str, int]]
    ) -> tuple[MarkEdit, ...]:
        """What happens to lines and words; *key* is what the key signature says."""
        if way.kind in SWEEPING:
            return tuple(self._naming(sweep, way, hand, dict(key)))
        return (*self._lines(sweep, way), *self._words(sweep), *self._roll(sweep, way))

    def _known(self, event: EventId) -> Note:
        return self._score.notes_by_id[event]

    def _beside_run(self, sweep: Sweep, way: Way) -> Iterator[NoteEdit]:
        """Small notes that the run does not take the place of."""
        replaced = set(way.run.before) if way.run is not None else set()
        for event in sweep.notes:
            value = NoteValue.of(self._known(event))
            if value not in replaced:
                yield RemoveNote(event, value)

    def _start(self, sweep: Sweep, way: Way) -> Iterator[NoteEdit]:
        yield from self._set(sweep.start, self._sounding(way.course.first))

    def _end(self, sweep: Sweep, way: Way) -> Iterator[NoteEdit]:
        if sweep.end is not None:
            yield from self._set(sweep.end, self._sounding(way.course.last))

    def _small(self, sweep: Sweep, way: Way) -> Iterator[NoteEdit]:
        """Written notes of the glissando, as their strings sound now."""
        tones = dict(way.tones)
        for event in sweep.notes:
            pitch = self._known(event).pitch
            octave = pitch.octave + way.course.start_octaves
            yield from self._set(event, Pitch(pitch.step, tones[pitch.step], octave))

    def _set(self, event: EventId, pitch: Pitch) -> Iterator[SetPitch]:
        for tied in self._tied.get(event, (event,)):
            before = NoteValue.of(self._known(tied))
            if before.pitch != pitch:
                yield SetPitch(tied, before, replace(before, pitch=pitch))

    def _sounding(self, home: Home) -> Pitch:
        string = self._harp.strings[home.string]
        return string.pitch(home.position) or string.open

    def _naming(
        self, sweep: Sweep, way: Way, hand: HandName, key: dict[str, int]
    ) -> Iterator[MarkEdit]:
        spelled = [m for m in map(self._marks.__getitem__, sweep.marks) if self._misleads(m, way)]
        for mark in spelled:
            yield from self._without(mark)
        start = self._known(sweep.start)
        pitches = tuple(Pitch(letter, alter, 4) for letter, alter in way.tones)
        if not (self._needs_names(sweep, way, key) or way.held or way.foreign or spelled):
            return
        is_said = any(m not in self._gone for m in sweep.marks)
        tones = tones_in_print(way)
        text = tones if is_said else f"gliss. {tones}"
        yield from self._say(start, "tones", pitches, text)
        if way.foreign:
            beside = self._names(way.foreign)
            letters = dict.fromkeys(in_print(self._tone(way, s)) for s in way.foreign)
            yield from self._say(start, "foreign", beside, f"(passing: {', '.join(letters)})")
        if way.held:
            other = HandName.LEFT if hand is HandName.RIGHT else HandName.RIGHT
            names = " ".join(in_print(p, octave=True) for p in self._names(way.held))
            text = f"étouffez {names} ({SHORT_HAND[other]})"
            yield from self._say(start, "held", self._names(way.held), text)

    def _needs_names(self, sweep: Sweep, way: Way, key: dict[str, int]) -> bool:
        """Whether a reader of the page would take other tones, or accidentals may decide them.

        Notes that are not of the key may get another spelling yet, or go.
        """
        read = self._read.get(sweep.start)
        if read is None or self._is_chromatic(self._known(sweep.start), key):
            return True
        on_page, tones = dict(read.tones), dict(way.tones)
        letters = {self._harp.strings[s].letter for s in way.course.inner}
        is_told = all(on_page[x] == tones[x] for x in letters)
        return not is_told or (not read.from_octave and any(on_page[x] != key[x] for x in letters))

    def _is_chromatic(self, start: Note, key: dict[str, int]) -> bool:
        """Whether a note at or before a glissando's start, in its measure, is not of the key."""
        return any(
            note.pitch.alter != key[note.pitch.step]
            for part in self._score.harp_parts
            for note in self._score.measure(part, start.id.index).notes
            if note.offset <= start.offset and not note.is_cue
        )

    def _misleads(self, mark: Mark, way: Way) -> bool:
        """Words that spell other tones than sound."""
        tones = dict(way.tones)
        is_ours = mark.kind is MarkKind.OWN
        return not is_ours and any(tones[letter] != alter for letter, alter in mark.pedals)

    def _say(
        self, start: Note, kind: str, pitches: tuple[Pitch, ...], text: str
    ) -> Iterator[AddWords]:
        """A direction at the start; glissandi that begin together share theirs."""
        place = (start.chord, f"{kind} {start.staff} {text}")
        if place in self._named:
            return
        self._named.add(place)
        self._serial += 1
        own = OwnNotes(kind, self._serial, pitches)
        value = MarkValue(start.id.index, start.offset, start.staff, text)
        yield AddWords(start.id.part, own.id, value, above=start.staff == 1)

    def _names(self, strings: tuple[int, ...]) -> tuple[Pitch, ...]:
        """Strings by letter and octave."""
        row = (self._harp.strings[s] for s in strings)
        return tuple(Pitch(s.letter, 0, s.octave) for s in row)

    def _tone(self, way: Way, string: int) -> Pitch:
        own = self._harp.strings[string]
        return Pitch(own.letter, dict(way.tones)[own.letter], own.octave)

    def _lines(self, sweep: Sweep, way: Way) -> Iterator[RemoveNotation]:
        """The line's signs; where a small note that goes has its start, both go with that note."""
        carriers = [e for e in (sweep.start, *sweep.notes) if self._line(e, "start")]
        carrier = carriers[0] if carriers else sweep.start
        note = self._known(carrier)
        goes = way.run is not None or note.is_cue or note.is_grace
        if carrier != sweep.start and goes:
            return
        ends = [(carrier, "start"), *([(sweep.end, "stop")] if sweep.end is not None else [])]
        for event, kind in ends:
            place = self._known(event)
            for line in self._line(event, kind):
                value = MarkValue(event.index, place.offset, place.staff, line.sign.value)
                yield RemoveNotation(event, line.key, value)

    def _line(self, event: EventId, kind: str) -> list[Notation]:
        return [n for n in self._known(event).notations if n.sign in LINES and n.type == kind]

    def _words(self, sweep: Sweep) -> Iterator[RemoveMark]:
        """Words that no glissando needs any more."""
        for event in sweep.marks:
            if self._spoken[event] == self._speaking[event]:
                yield from self._without(self._marks[event])

    def _without(self, mark: Mark) -> Iterator[RemoveMark]:
        if mark.id not in self._gone:
            self._gone.add(mark.id)
            yield RemoveMark(mark.id, MarkValue.of(mark))

    def _roll(self, sweep: Sweep, way: Way) -> Iterator[AddRoll]:
        if way.kind is not WayKind.ROLLED or sweep.end is None:
            return
        end = self._known(sweep.end)
        measure = self._score.measure(end.id.part, end.id.index)
        chord = [n for n in measure.notes if n.chord == end.chord]
        if end.chord in self._rolled:
            return
        self._rolled.add(end.chord)
        if len(chord) > 1 and not any(n.has(Sign.ARPEGGIATE) for n in chord):
            value = MarkValue(end.id.index, end.offset, end.staff, "roll")
            yield AddRoll(tuple(n.id for n in chord), value)


def _said(marks: dict[EventId, Mark]) -> Iterator[OwnNotes]:
    for mark in marks.values():
        said = OwnNotes.parse(mark.own) if mark.kind is MarkKind.OWN else None
        if said is not None and said.kind in KINDS:
            yield said
