"""What is otherwise when a strain comes back: its notes, its ending, the levers."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from arrange.check import Instruction
from arrange.harp.wording import state_in_words
from arrange.phrasing import listed
from arrange.teach.piece import Piece
from arrange.teach.strains import LEAST, Likeness, Strain, aligned
from arrange.teach.words import counted, span_text

ALIKE = 55
"""From so many hundredths of the melody on a strain is the same one again (house judgement)."""
_STEPS = (
    "", "semitone", "whole tone", "minor third", "major third", "fourth", "tritone", "fifth",
    "minor sixth", "major sixth", "minor seventh", "major seventh",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Return:
    """A strain that comes back: as *model*, called *name*, in *strain*; how like it is."""

    name: str
    model: Strain
    strain: Strain
    likeness: Likeness

    @property
    def is_melody(self) -> bool:
        """The melody comes back, not the harmony alone."""
        return self.likeness.melody >= ALIKE or self.likeness.opening >= LEAST


def differences(piece: Piece, back: Return) -> Iterator[str]:
    """Yield what is otherwise than it was, a sentence each."""
    one, strain = back.model, back.strain
    semitones = back.likeness.semitones if back.is_melody else 0
    if semitones:
        yield f"It lies {_distance(abs(semitones))} {'higher' if semitones > 0 else 'lower'}."
    if not back.is_melody:
        yield "A variation: the same harmony, measure by measure, in other figures."
    elif back.likeness.melody < ALIKE:
        same = strain.first + back.likeness.opening
        same_text = span_text(piece.measures, range(strain.first, same))
        yield f"It begins as {back.name} does ({same_text}), then goes its own way."
    else:
        yield from _of_notes(piece, one, strain, semitones)
    is_whole = not back.is_melody or back.likeness.melody >= ALIKE
    compared = min(len(one), len(strain)) if is_whole else back.likeness.opening
    yield from _of_levers(piece, one, strain, compared)


def _distance(semitones: int) -> str:
    octaves, rest = divmod(semitones, 12)
    steps = _STEPS[rest]
    if not octaves:
        return f"a {steps}"
    over = counted(octaves, "octave").replace("one", "an")
    return f"{over} and a {steps}" if steps else over


def _of_notes(piece: Piece, one: Strain, two: Strain, semitones: int) -> Iterator[str]:
    sung, played = _notes_by_measure(piece)
    other_melody, other_rest = [], []
    places = aligned(piece, one, two)
    for a, b in places:
        if _moved(sung.get(a), semitones) != _moved(sung.get(b), 0):
            other_melody.append(b)
        elif _moved(played.get(a), semitones) != _moved(played.get(b), 0):
            other_rest.append(b)
    changed = sorted({*other_melody, *other_rest})
    ending = _ending(changed, [b for _, b in places])
    if ending is not None and len(changed) > 1:
        yield f"A new ending from {span_text(piece.measures, (ending,))} on."
        other_melody = [m for m in other_melody if m < ending]
        other_rest = [m for m in other_rest if m < ending]
    if other_melody:
        yield f"The melody is otherwise in {span_text(piece.measures, other_melody)}."
    if other_rest:
        yield (
            f"Under the same melody the other notes differ in "
            f"{span_text(piece.measures, other_rest)}."
        )
    longer = two.full_measures(piece.measures) - one.full_measures(piece.measures)
    if longer:
        word = "longer" if longer > 0 else "shorter"
        yield f"It is {counted(abs(longer), 'measure')} {word}."


def _ending(changed: Sequence[int], compared: Sequence[int]) -> int | None:
    """Where the last row of changed measures begins, if it goes on to the end."""
    if len(compared) <= 2:
        return None
    begin = compared[-1] + 1
    while begin - 1 in changed:
        begin -= 1
    length = compared[-1] + 1 - begin
    return begin if 0 < length <= len(compared) // 2 else None


_Notes = set[tuple[int, int]]


def _notes_by_measure(piece: Piece) -> tuple[Mapping[int, _Notes], Mapping[int, _Notes]]:
    """Melody and other notes of each measure: ticks from the barline, pitch."""
    sung: dict[int, _Notes] = {}
    played: dict[int, _Notes] = {}
    leading = {note.ids[0] for note in piece.melody}
    for note in piece.line.notes:
        rows = sung if note.ids[0] in leading else played
        place = note.start - piece.line.starts[note.index]
        rows.setdefault(note.index, set()).add((place, note.midi))
    return sung, played


def _moved(notes: _Notes | None, semitones: int) -> _Notes:
    return {(tick, midi + semitones) for tick, midi in notes or ()}


def _of_levers(piece: Piece, one: Strain, two: Strain, compared: int) -> Iterator[str]:
    """How the levers stand, and what is moved within the measures that are *compared*."""
    places = [piece.clock.occurrences(strain.first) for strain in (one, two)]
    if not all(places) or not piece.told.moves:
        return
    settings = [piece.setting(found[0]) for found in places]
    if settings[0] != settings[1]:
        words = state_in_words(piece.harp, *settings).removeprefix("as at the start but ")
        yield f"Levers at its beginning: {words}, otherwise as the first time."
    moves = [
        {
            (m.index - s.first, m.offset, m.string, m.position)
            for m in _made(piece, s)
            if m.index - s.first < compared
        }
        for s in (one, two)
    ]
    if moves[0] != moves[1]:
        where = [two.first + m[0] for m in moves[1] - moves[0]]
        gone = [one.first + m[0] for m in moves[0] - moves[1]]
        told = [f"new ones in {span_text(piece.measures, where)}"] if where else []
        told += [f"not those of {span_text(piece.measures, gone)}"] if gone else []
        yield f"Lever moves: {listed(told)}."


def _made(piece: Piece, strain: Strain) -> Iterator[Instruction]:
    return (m for m in piece.first_acts if m.index in strain.indices)
