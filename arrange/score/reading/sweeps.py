"""Finds the glissandi of a score, in whichever of the usual ways they are written.

The ways: a wavy line (``glissando``) or a straight one (``slide``) from note to note, over
staves and barlines; the word "gliss." with the run written out; the word, or a line, with small
notes for the first octave; a line with the scale spelled in words or set by pedal marks.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from arrange.score.model import (
    EventId,
    Finding,
    Mark,
    MarkKind,
    Part,
    PedalSetting,
    Sign,
    StaffHand,
    Sweep,
    SweepForm,
)
from arrange.score.reading.harp_notes import HarpNotes, Placed
from arrange.score.reading.sweep_lines import LinePairing, Stroke
from arrange.score.reading.sweep_runs import (
    RUN_NOTES,
    direction,
    is_step,
    small_run,
    upbeat_run,
    written_run,
)
from arrange.score.reading.sweep_tones import PedalsInForce, Tones, named_tones, tones_of
from arrange.score.swept import transposed
from arrange.units import Quarters

__all__ = ["sweeps", "transposed"]

PORTAMENTO_STEPS = 3
"""A slide over less than a fourth sweeps no strings (house judgement)."""
WORDS_AHEAD = Quarters(1)
"""Words may stand so far before the line that they speak of (house judgement)."""


@dataclass(slots=True)
class _Course:
    """One glissando while it is found.

    Attributes:
        run: its written notes besides start and end.
        words: the marks that speak of it.
    """

    start: Placed
    end: Placed | None
    form: SweepForm
    run: tuple[Placed, ...] = ()
    words: list[Mark] = field(default_factory=list)


def sweeps(
    parts: tuple[Part, ...], harps: tuple[tuple[StaffHand, ...], ...]
) -> tuple[tuple[Sweep, ...], tuple[Finding, ...]]:
    """Return the glissandi of each harp in score order, and what was assumed or left."""
    found: list[Sweep] = []
    findings: list[Finding] = []
    for harp in harps:
        reader = _HarpSweeps(HarpNotes(parts, harp))
        found.extend(reader.read())
        findings.extend(reader.findings)
    return tuple(found), tuple(findings)


class _HarpSweeps:
    """Reads the glissandi of one harp."""

    def __init__(self, harp: HarpNotes) -> None:
        self.findings: list[Finding] = []
        self._harp = harp
        self._words: dict[int, list[Mark]] = {}
        for mark in harp.marks():
            if mark.kind is MarkKind.GLISSANDO_WORDS:
                self._words.setdefault(mark.id.index, []).append(mark)

    def read(self) -> list[Sweep]:
        signed = [index for index in range(self._harp.count) if self._is_signed(index)]
        if not signed and not self._words:
            return []
        lines = LinePairing(self._harp, signed)
        for stop in lines.loose_stops:
            self._find(stop, "A glissando line ends here but begins nowhere; it was not followed.")
        endless = tuple(stroke.start for stroke in lines.strokes if stroke.end is None)
        drawn = (self._line(stroke, endless) for stroke in lines.strokes)
        courses = [course for course in drawn if course is not None]
        spoken = {mark.id for course in courses for mark in course.words}
        known = {course.start.note.id: course for course in courses}
        for index in sorted(self._words):
            for mark in self._words[index]:
                if mark.id not in spoken:
                    courses.extend(self._spoken(mark, known))
        courses.sort(key=lambda course: course.start[:5])
        pedals = PedalsInForce(self._harp)
        return [self._sweep(course, pedals) for course in courses]

    def _is_signed(self, index: int) -> bool:
        return any(
            notation.sign in (Sign.GLISSANDO, Sign.SLIDE)
            for measure in self._harp.measures(index)
            for note in measure.notes
            for notation in note.notations
        )

    def _find(self, placed: Placed, text: str) -> None:
        part = placed.note.id.part
        number = next(m.number for m in self._harp.measures(placed.at) if m.part == part)
        self.findings.append(Finding(text, part, placed.at, number))

    def _line(self, stroke: Stroke, endless: tuple[Placed, ...]) -> _Course | None:
        """The glissando that a line draws; None where it only slides to a neighbour.

        Starts without a stop are *endless*.
        """
        end = stroke.end
        if end is None:
            end = self._next(stroke.start, endless)
            where = "the next note of its voice" if end else "the end of its written length"
            self._find(
                stroke.start, f"A glissando line has no end; it was taken to go to {where}."
            )
        elif stroke.other_number:
            self._find(
                stroke.start,
                "The two ends of a glissando line have different numbers; "
                "they were taken together.",
            )
        course = self._with_run(_Course(stroke.start, end, _FORMS[stroke.sign]))
        span = range(course.start.at, self._until(course)[0] + 1)
        near = (mark for index in span for mark in self._words.get(index, ()))
        course.words = [mark for mark in near if self._is_about(mark, course)]
        steps = abs(end.note.pitch.line - stroke.start.note.pitch.line) if end else None
        least = 1 if course.words or stroke.sign is Sign.GLISSANDO else PORTAMENTO_STEPS
        if steps is not None and steps < least:
            self._find(
                stroke.start,
                "A line joins two notes less than a fourth apart; it was left as a "
                "slide between them, not taken for a glissando over the strings.",
            )
            return None
        return course

    def _next(self, start: Placed, beside: tuple[Placed, ...]) -> Placed | None:
        """Where a line without an end goes: rank by rank where a chord begins several."""
        chord = self._harp.next_chord(start)
        if not chord:
            return None
        rivals = sorted(
            (p for p in beside if p.moment == start.moment and p.voice == start.voice),
            key=lambda p: p.note.pitch.midi,
        )
        if len(rivals) > 1:
            return chord[min(rivals.index(start), len(chord) - 1)]
        return chord[-1] if direction(start, chord[-1]) > 0 else chord[0]

    def _with_run(self, course: _Course) -> _Course:
        """Add the notes that spell a line out, before its start or under it."""
        start, end = course.start, course.end
        if end is None:
            return course
        written = written_run(self._harp, start, end)
        if written and is_step(written[-1], end) and len(written) + 2 >= RUN_NOTES:
            return _Course(start, end, SweepForm.WRITTEN_OUT, written)
        small = small_run(self._harp, start, end)
        if not small and len(written) + 1 >= RUN_NOTES:
            small = written
        before = upbeat_run(self._harp, start, direction(start, end))
        if before:
            run = (*before[1:], start, *small)
            return _Course(before[0], end, SweepForm.FIRST_OCTAVE, run)
        if small:
            return _Course(start, end, SweepForm.FIRST_OCTAVE, small)
        return course

    def _is_about(self, mark: Mark, course: _Course) -> bool:
        """Whether words stand over a line or shortly before it."""
        place = (mark.id.index, mark.offset)
        start = (course.start.at, course.start.offset)
        if start <= place < self._until(course):
            return True
        return place <= start and place[0] == start[0] and start[1] - place[1] <= WORDS_AHEAD

    def _until(self, course: _Course) -> tuple[int, Quarters]:
        if course.end is None:
            return self._harp.after(course.start)
        return course.end.at, course.end.offset

    def _spoken(self, mark: Mark, known: dict[EventId, _Course]) -> Iterator[_Course]:
        """The glissandi that words alone ask for; *known* are the drawn ones by their start."""
        starts = self._starts(mark)
        drawn = [known[start.note.id] for start in starts if start.note.id in known]
        if drawn:
            for course in drawn:
                course.words.append(mark)
            return
        if not starts:
            part = next(p for p in self._harp.parts if p.id == mark.id.part)
            number = part.measures[mark.id.index].number
            text = f"'{mark.text}' stands where no note follows; it was left as words."
            self.findings.append(Finding(text, mark.id.part, mark.id.index, number))
            return
        run = written_run(self._harp, starts[-1], None)
        if len(run) + 1 >= RUN_NOTES:
            yield self._written_out(starts[-1], run, mark)
            return
        for start in starts:
            end = self._next(start, starts)
            small = small_run(self._harp, start, end)
            form = SweepForm.FIRST_OCTAVE if small else SweepForm.WORDS
            steps = 0 if end is None else abs(end.note.pitch.line - start.note.pitch.line)
            if steps < PORTAMENTO_STEPS:
                text = f"'{mark.text}' stands here but leads to no note a fourth away or more; "
                self._find(start, text + "it was not taken for a glissando over the strings.")
                continue
            yield _Course(start, end, form, small, [mark])

    def _starts(self, mark: Mark) -> tuple[Placed, ...]:
        """The notes that words mean: struck there, else sounding there, else the next ones.

        Of a chord the highest; the whole chord where the next one has as many notes.
        """
        place = [p for p in self._harp.placed(mark.id.index) if p.note.id.part == mark.id.part]
        own = [p for p in place if p.note.staff == mark.staff] or place
        main = [p for p in own if not p.note.is_cue] or own
        struck = [p for p in main if p.offset == mark.offset]
        sounding = [p for p in main if p.offset < mark.offset < p.offset + p.note.duration]
        later = [p for p in main if p.offset > mark.offset]
        near = struck or sounding[-1:] or later
        if not near:
            return ()
        chord = sorted(
            (p for p in near if p.moment == near[0].moment and p.voice == near[0].voice),
            key=lambda p: p.note.pitch.midi,
        )
        following = self._harp.next_chord(chord[-1])
        return tuple(chord) if len(chord) == len(following) else (chord[-1],)

    def _written_out(self, start: Placed, run: tuple[Placed, ...], mark: Mark) -> _Course:
        last = run[-1]
        after = self._harp.next_chord(last)
        arrival = next((p for p in after if is_step(last, p, direction(start, last))), None)
        if arrival is not None:
            return _Course(start, arrival, SweepForm.WRITTEN_OUT, run, [mark])
        return _Course(start, last, SweepForm.WRITTEN_OUT, run[:-1], [mark])

    def _sweep(self, course: _Course, pedals: PedalsInForce) -> Sweep:
        tones = self._tones(course, pedals)
        if tones.contradicted:
            letters = ", ".join(tones.contradicted)
            self._find(
                course.start,
                f"Pedal marks and notes disagree about {letters} in a glissando; "
                "the later of the two was taken, and a pedal mark before the written octave.",
            )
        until_index, until_offset = self._until(course)
        return Sweep(
            start=course.start.note.id,
            end=None if course.end is None else course.end.note.id,
            form=course.form,
            tones=tones.letters,
            until_index=until_index,
            until_offset=until_offset,
            from_pedals=tones.from_pedals,
            from_octave=tones.from_octave,
            marks=tuple(mark.id for mark in course.words),
            notes=tuple(placed.note.id for placed in course.run),
        )

    def _tones(self, course: _Course, pedals: PedalsInForce) -> Tones:
        """Our own mark; else the pedals at the start, full rows under the line, spelled words."""
        start = course.start
        setting, overruled = pedals.at(start.at, start.offset)
        named = named_tones(self._harp, start)
        if named is not None:
            return named
        spelled: PedalSetting = {}
        until = self._until(course)
        for index in range(start.at, until[0] + 1):
            for measure in self._harp.measures(index):
                for mark in measure.marks:
                    place = (index, mark.offset)
                    if len(mark.pedals) == 7 and (start.at, start.offset) < place < until:
                        spelled |= dict(mark.pedals)
        for mark in course.words:
            spelled |= dict(mark.pedals)
        overruled = tuple(letter for letter in overruled if letter not in spelled)
        run = (course.start, *course.run)
        end = None if course.end is None else course.end.note
        return tones_of(
            self._harp, start, end, [p.note for p in run], (setting | spelled, overruled)
        )


_FORMS = {Sign.GLISSANDO: SweepForm.LINE, Sign.SLIDE: SweepForm.SLIDE}
