"""What is heard agrees with an independent reader: order of play, seconds, pitches.

music21 10.5 unfolds the repeats and turns tempo marks into seconds. It knows nothing of how
small notes, rolls and glissandi are spread, so small notes are left out and the notes of a rolled
chord may come up to half a second later. After a *da capo* it stops before the end.
"""

import warnings
from pathlib import Path

import music21
import pytest

import corpus
from arrange.report.listening import timeline
from arrange.score.document import Document
from arrange.score.reading import Reading

HOME = Path(corpus.__file__).parent
WHOLE = ("lullaby-windy-night", "skylight-piano", "prelude-c-minor")
ROLLED_S = 0.5
ROUNDED_S = 0.0006


def _theirs(path: Path) -> list[tuple[float, int, bool]]:
    """Seconds, key number, whether it is rolled; of each note that is struck."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        whole = music21.converter.parse(path, format="musicxml", forceSource=True)
        rows = whole.expandRepeats().flatten().secondsMap
    found: list[tuple[float, int, bool]] = []
    for row in rows:
        element = row["element"]
        if "NotRest" not in element.classes or "Harmony" in element.classes:
            continue
        if element.duration.isGrace:
            continue
        signs = [*element.expressions, *element.getSpannerSites()]
        is_rolled = any("Arpeggio" in name for s in signs for name in s.classes)
        notes = element.notes if element.isChord else [element]
        struck = [note for note in notes if note.tie is None or note.tie.type == "start"]
        time = float(row["offsetSeconds"])
        found.extend((time, note.pitch.midi, is_rolled) for note in struck)
    return found


def _ours(path: Path) -> dict[int, list[float]]:
    heard = timeline(Reading(Document.read(path.read_bytes(), path.name)).score())
    times: dict[int, list[float]] = {}
    for row in heard["plucks"]:
        times.setdefault(row[3], []).append(row[0])
    return times


@pytest.mark.parametrize("name", [*WHOLE, "minuet-da-capo"])
def test_what_is_heard_agrees_with_music21(name: str) -> None:
    path = HOME / f"{name}.musicxml"
    ours, theirs = _ours(path), _theirs(path)
    assert theirs
    missed = []
    for time, midi, is_rolled in theirs:
        late = ROLLED_S if is_rolled else ROUNDED_S
        near = [t for t in ours.get(midi, []) if -ROUNDED_S <= t - time <= late]
        if near:
            ours[midi].remove(near[0])
        else:
            missed.append((time, midi))
    assert missed == []
    if name in WHOLE:
        assert sum(map(len, ours.values())) == 0
