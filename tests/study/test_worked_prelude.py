"""The worked piece: the Prelude in C major, BWV 846, as music21's corpus has it.

Least numbers of mid-piece moves for each tuning, with levers free at any moment: computed
from a transcription from memory; here from the corpus file. The piece is in
the public domain.
"""

from importlib.util import find_spec
from pathlib import Path

import pytest

from arrange.harp.files import load_harp
from arrange.harp.harp import Harp, Position
from arrange.levers.problem import (
    Choice,
    Hand,
    LeverProblem,
    LeverString,
    Plan,
    PrintedNote,
    Slot,
    SlotTime,
    Visit,
)
from arrange.levers.solve import solve
from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.model import Note, Score
from arrange.score.reading import Reading

MOVES = {"E-flat": 17, "C": 19, "F": 18, "B-flat": 19, "A-flat": 17}
SIXTEENTHS = 16


@pytest.fixture(scope="module")
def prelude() -> Score:
    package = find_spec("music21")
    assert package is not None
    assert package.origin is not None
    source = read_source(Path(package.origin).parent / "corpus" / "bach" / "bwv846.mxl")
    return Reading(Document.read(source.score_bytes, source.name)).score()


def struck(score: Score) -> list[tuple[int, Note]]:
    """Every note that is plucked, with its place in sixteenths from the start."""
    return sorted(
        (
            (measure.index * SIXTEENTHS + int(note.offset * 4), note)
            for part in score.harp_parts
            for measure in score.by_part[part].measures
            for note in measure.notes
            if not note.tied_from
        ),
        key=lambda found: (found[0], found[1].pitch.midi),
    )


def planned(score: Score, harp: Harp) -> Plan:
    """The plan with a hand free at every sixteenth and strings that never ring."""
    notes = struck(score)
    last = notes[-1][0] + 1
    always = ((10**9,),)
    return solve(
        LeverProblem(
            strings=tuple(
                LeverString(s.name, s.open.midi, None if s.raised is None else s.raised.midi)
                for s in harp.strings
            ),
            notes=tuple(
                PrintedNote(
                    tuple(
                        Choice(((home.string, home.position),), 0)
                        for home in harp.homes(note.pitch.midi)
                    )
                )
                for _, note in notes
            ),
            visits=tuple(
                Visit(i, place * 1000, (place * 1000,) * len(harp.homes(note.pitch.midi)))
                for i, (place, note) in enumerate(notes)
            ),
            slots=tuple(Slot((SlotTime(place * 1000, always),)) for place in range(last)),
            hands=(Hand("left", 1, 0, frozenset({0})),),
        ),
        limit=300_000,
    )


@pytest.mark.parametrize("tuning", sorted(MOVES))
def test_the_prelude_takes_the_fewest_moves_there_can_be(prelude: Score, tuning: str) -> None:
    plan = planned(prelude, load_harp(f"lever-34-{tuning}").harp)
    assert plan.is_optimal
    assert len(plan.moves) == MOVES[tuning]
    assert plan.cost == 100 * MOVES[tuning]


def test_the_prelude_fits_the_common_harp_with_its_two_presets(prelude: Score) -> None:
    """C2 to A5; E, A, B up for C major, and besides F4 sharp and A2 flat."""
    midis = [note.pitch.midi for _, note in struck(prelude)]
    assert (min(midis), max(midis)) == (36, 81)
    harp = load_harp("lever-34").harp
    plan = planned(prelude, harp)
    start = {harp.strings[string].name: position for string, position in plan.start}
    assert start["F4"] is Position.UP
    assert start["A2"] is Position.DOWN
    assert start["E4"] is Position.UP
    assert start["B3"] is Position.UP
