"""The melody alone, as a score to play through, with the names of the chords that are sure."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from html import escape

from arrange.pitch import Pitch
from arrange.report.listening import note_id
from arrange.score.model import EventId, Measure, Note
from arrange.study.keysignature import alteration
from arrange.study.timeline import Sounding
from arrange.teach.chords import SureChord
from arrange.teach.piece import Piece
from arrange.teach.values import Span, Written, signs_of
from arrange.teach.words import number_of
from arrange.units import Quarters

MIDDLE = Pitch("C", 0, 4).midi
_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_QUESTION = (
    '<direction placement="above"><direction-type><words font-weight="bold">?</words>'
    "</direction-type></direction>"
)
_TICKS = 5040
"""Divisions of a quarter: whole for every usual part of it."""


@dataclass(frozen=True, slots=True)
class MelodyMeasure:
    """One measure of the melody: its signs, small notes and chords.

    Attributes:
        graces: by the offset that they lead to.
        is_left_out: its rhythm cannot be written with usual values; it stands empty.
        open: those of its notes that are left open; a question mark stands over them.
    """

    measure: Measure
    signs: tuple[Written, ...]
    graces: dict[Quarters, tuple[Note, ...]]
    chords: tuple[SureChord, ...]
    is_left_out: bool = False
    open: frozenset[EventId] = frozenset()


def melody_measures(piece: Piece, chords: Sequence[SureChord]) -> tuple[MelodyMeasure, ...]:
    """Return the melody measure by measure; where it has none, the measure is silent."""
    spans: dict[int, list[Span]] = {m.index: [] for m in piece.measures}
    graces: dict[int, dict[Quarters, tuple[Note, ...]]] = {}
    notes = [n for n in piece.melody if not n.is_grace]
    for i, sounding in enumerate(notes):
        end = _rung_to_the_beat(piece, sounding)
        if i + 1 < len(notes):
            end = min(end, notes[i + 1].start)
        for index, span in _over_barlines(piece, sounding.note, sounding.start, end):
            spans[index].append(span)
    for sounding in piece.melody:
        if sounding.is_grace:
            note = sounding.note
            row = graces.setdefault(sounding.index, {})
            row[note.offset] = (*row.get(note.offset, ()), note)
    named: dict[int, list[SureChord]] = {}
    for chord in chords:
        named.setdefault(chord.index, []).append(chord)
    return tuple(
        replace(
            _measure(m, spans[m.index], graces.get(m.index, {}), tuple(named.get(m.index, ()))),
            open=frozenset(s.note.id for s in spans[m.index] if s.note) & piece.open,
        )
        for m in piece.measures
    )


def _rung_to_the_beat(piece: Piece, note: Sounding) -> int:
    """Where it ends; one that is cut off within a beat that is parted in thirds rings on."""
    line = piece.line
    length = Quarters(note.end - note.start, line.quarter)
    if not length.denominator & (length.denominator - 1):
        return note.end
    following = bisect_left(line.beats, note.end)
    return line.beats[following] if following < len(line.beats) else line.end


def _over_barlines(piece: Piece, note: Note, start: int, end: int) -> Iterator[tuple[int, Span]]:
    """The parts of a note, measure by measure; exact within the ticks of the timeline."""
    line = piece.line
    index = piece.measure_at(start)
    place = start
    while place < end:
        begin = line.starts[index]
        barline = line.starts[index + 1] if index + 1 < len(line.starts) else line.end
        until = min(end, barline)
        yield (
            index,
            Span(
                Quarters(place - begin, line.quarter),
                Quarters(until - place, line.quarter),
                note,
                is_tied=place > start,
                is_tied_on=until < end,
            ),
        )
        if barline <= place:
            return
        place, index = until, index + 1


def _measure(
    measure: Measure,
    spans: Sequence[Span],
    graces: dict[Quarters, tuple[Note, ...]],
    chords: tuple[SureChord, ...],
) -> MelodyMeasure:
    row: list[Span] = []
    place = Quarters(0)
    for span in spans:
        if span.offset > place:
            row.append(Span(place, span.offset - place, None))
        row.append(span)
        place = span.offset + span.duration
    if place < measure.length:
        row.append(Span(place, measure.length - place, None))
    if not spans:
        return MelodyMeasure(measure, (), graces, chords)
    signs = signs_of(row, measure.meter)
    return MelodyMeasure(measure, signs or (), graces, chords, is_left_out=signs is None)


def melody_score(row: Sequence[MelodyMeasure], starts: Sequence[int]) -> str:
    """Write the melody as MusicXML for the engraver.

    Args:
        row: the measures.
        starts: indices of the measures that begin a system.
    """
    notes = [s.note for m in row for s in m.signs if s.note is not None]
    height = sum(n.pitch.midi for n in notes) // len(notes) if notes else MIDDLE
    writer = _Writer("F" if height < MIDDLE else "G", frozenset(starts))
    body = "".join(piece for measure in row for piece in writer.measure(measure))
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0"><part-list>'
        '<score-part id="P"><part-name></part-name></score-part></part-list>'
        f'<part id="P">{body}</part></score-partwise>'
    )


class _Writer:
    """Writes measures, and knows what stands at the beginning of each."""

    def __init__(self, clef: str, starts: frozenset[int]) -> None:
        self._clef = clef
        self._starts = starts
        self._before: Measure | None = None
        self._sounding: dict[tuple[str, int], int] = {}

    def measure(self, one: MelodyMeasure) -> Iterator[str]:
        measure = one.measure
        number = escape(number_of(measure))
        yield f'<measure number="{number}" id="m-{measure.index}">'
        if measure.index in self._starts and measure.index:
            yield '<print new-page="yes"/>'
        yield from self._attributes(measure)
        if measure.structure.forward:
            yield '<barline location="left"><bar-style>heavy-light</bar-style>'
            yield '<repeat direction="forward"/></barline>'
        self._sounding = {}
        waiting = list(one.chords)
        if not one.signs:
            yield from (_harmony(chord) for chord in waiting)
            yield '<note><rest measure="yes"/>'
            yield f"<duration>{_ticks(measure.length)}</duration></note>"
        for sign in one.signs:
            end = sign.offset + sign.duration
            while waiting and waiting[0].offset < end:
                yield _harmony(waiting.pop(0), sign.offset)
            if not sign.is_tied:
                yield from self._before_note(one, sign)
            yield self._note(sign.note, sign, "")
        yield from self._end(measure)
        yield "</measure>"
        self._before = measure

    def _before_note(self, one: MelodyMeasure, sign: Written) -> Iterator[str]:
        """A question mark over what is left open, and the small notes that lead to it."""
        if sign.note is not None and sign.note.id in one.open:
            yield _QUESTION
        for grace in one.graces.get(sign.offset, ()):
            yield self._note(grace, None, "<grace/>")

    def _attributes(self, measure: Measure) -> Iterator[str]:
        before = self._before
        fifths = measure.fifths[0] if measure.fifths else 0
        pieces = []
        if before is None:
            pieces.append(f"<divisions>{_TICKS}</divisions>")
        if before is None or before.fifths != measure.fifths:
            pieces.append(f"<key><fifths>{fifths}</fifths></key>")
        if before is None or before.meter != measure.meter:
            meter = measure.meter
            pieces.append(
                f"<time><beats>{meter.beats}</beats>"
                f"<beat-type>{meter.beat_type}</beat-type></time>"
            )
        if before is None:
            line = 4 if self._clef == "F" else 2
            pieces.append(f"<clef><sign>{self._clef}</sign><line>{line}</line></clef>")
        if pieces:
            yield f"<attributes>{''.join(pieces)}</attributes>"
        self._fifths = fifths

    def _note(self, note: Note | None, sign: Written | None, kind: str) -> str:
        value, dots = ("eighth", 0) if sign is None else sign.value
        name = "" if note is None else f' id="{note_id(note.id)}"'
        if sign is not None and sign.is_tied:
            name = ""
        parts = [f"<note{name}>{kind}"]
        parts.append("<rest/>" if note is None else _pitch(note.pitch))
        if sign is not None:
            parts.append(f"<duration>{_ticks(sign.duration)}</duration>")
            parts += ['<tie type="stop"/>'] * sign.is_tied + [
                '<tie type="start"/>'
            ] * sign.is_tied_on
        parts.append(f"<voice>1</voice><type>{value}</type>{'<dot/>' * dots}")
        parts.append(self._accidental(note, is_tied=sign is not None and sign.is_tied))
        if sign is not None:
            parts += _signs(sign)
        return "".join([*parts, "</note>"])

    def _accidental(self, note: Note | None, *, is_tied: bool) -> str:
        if note is None:
            return ""
        place = (note.pitch.step, note.pitch.octave)
        standing = self._sounding.get(place, alteration(note.pitch.step, self._fifths))
        if is_tied or standing == note.pitch.alter:
            return ""
        self._sounding[place] = note.pitch.alter
        return f"<accidental>{_ACCIDENTALS.get(note.pitch.alter, 'natural')}</accidental>"

    def _end(self, measure: Measure) -> Iterator[str]:
        structure = measure.structure
        if structure.backward:
            yield '<barline location="right"><bar-style>light-heavy</bar-style>'
            yield '<repeat direction="backward"/></barline>'
        elif structure.double_bar or structure.fine:
            yield '<barline location="right"><bar-style>light-light</bar-style></barline>'


def _pitch(pitch: Pitch) -> str:
    alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
    return f"<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


def _signs(sign: Written) -> list[str]:
    parts = []
    if sign.tuplet is not None:
        actual, normal = sign.tuplet
        parts.append(
            f"<time-modification><actual-notes>{actual}</actual-notes>"
            f"<normal-notes>{normal}</normal-notes></time-modification>"
        )
    if sign.beam:
        parts.append(f'<beam number="1">{sign.beam}</beam>')
    notations = ['<tied type="stop"/>'] * sign.is_tied + ['<tied type="start"/>'] * sign.is_tied_on
    if sign.tuplet_end:
        notations.append(f'<tuplet type="{sign.tuplet_end}" number="1"/>')
    if notations:
        parts.append(f"<notations>{''.join(notations)}</notations>")
    return parts


def _harmony(chord: SureChord, place: Quarters | None = None) -> str:
    step, alter = chord.root
    changed = f"<root-alter>{alter}</root-alter>" if alter else ""
    offset = chord.offset if place is None else chord.offset - place
    later = f"<offset>{_ticks(offset)}</offset>" if offset else ""
    text = escape(chord.text)
    return (
        f"<harmony><root><root-step>{step}</root-step>{changed}</root>"
        f'<kind text="{text}">{chord.kind}</kind>{later}</harmony>'
    )


def _ticks(length: Quarters) -> int:
    return round(length * _TICKS)
