"""The referee holds every mark that comes or goes against the log."""

from pathlib import Path
from typing import Any

import pytest

from referee import judge
from referee.tiny import change, place, score_xml, strings, summary_of, words_xml, written

Staves = list[tuple[str, str]]
CHORD: Staves = [("C4:4 +Eb4:4 +G4:4", "R:4")]
ROLLED: Staves = [("C4:4!arpeggiate +Eb4:4!arpeggiate +G4:4!arpeggiate", "R:4")]
FERMATA: Staves = [("C4:4!fermata", "R:4")]
PLAIN: Staves = [("C4:4", "R:4")]
FINGERED: Staves = [("C4:4!fingering", "R:4")]
PEDAL = "<direction><direction-type><pedal type='start'/></direction-type></direction>"
TWO_WORDS = (
    "<direction><direction-type><words>Levers: </words></direction-type>"
    "<direction-type><words>E up</words></direction-type></direction>"
)


def sentences(
    folder: Path, source: bytes, result: bytes, marks: list[tuple[list[str], list[str]]]
) -> list[str]:
    """The faults of two scores with these (before, after) mark texts in the log."""
    summary: dict[str, Any] = summary_of(strings("C3", "C6"), [0], "P1")
    for number, sides in enumerate(marks):
        before, after = ([place(0, "0") | {"text": t} for t in side] for side in sides)
        summary["changes"].append(change(number, "mark", 0, before, after))
    return [str(fault) for fault in judge(*written(folder, source, result, summary))]


@pytest.mark.parametrize(
    ("source", "result", "marks"),
    [
        ((CHORD, ""), (ROLLED, ""), [([], ["rolled"])]),
        ((FERMATA, ""), (PLAIN, ""), [(["fermata"], [])]),
        ((FINGERED, ""), (PLAIN, ""), [(["5"], [])]),
        ((PLAIN, words_xml("0", "con Ped.")), (PLAIN, ""), [(["con Ped."], [])]),
        ((PLAIN, PEDAL), (PLAIN, ""), [(["pedal down"], [])]),
        ((PLAIN, ""), (PLAIN, TWO_WORDS), [([], ["Levers: E up"])]),
    ],
)
def test_a_mark_needs_its_entry_and_no_other(
    tmp_path: Path,
    source: tuple[Staves, str],
    result: tuple[Staves, str],
    marks: list[tuple[list[str], list[str]]],
) -> None:
    scores = [score_xml(staves, -3, {0: (extra, "")}) for staves, extra in (source, result)]
    assert sentences(tmp_path, scores[0], scores[1], marks) == []
    assert len(sentences(tmp_path, scores[0], scores[1], [])) in {1, 2}
    assert len(sentences(tmp_path, scores[0], scores[1], [*marks, ([], ["ritenuto"])])) == 1


def test_words_need_an_entry_with_their_text(tmp_path: Path) -> None:
    source = score_xml(PLAIN, -3, {0: (words_xml("0", "dolce"), "")})
    result = score_xml(PLAIN, -3, {})
    assert len(sentences(tmp_path, source, result, [(["espressivo"], [])])) == 2


def test_lines_between_notes_may_be_logged_and_need_not(tmp_path: Path) -> None:
    source = score_xml([("C4:2!slur C4:2!slur", "R:4")], -3, {})
    result = score_xml([("C4:2 C4:2", "R:4")], -3, {})
    assert sentences(tmp_path, source, result, []) == []
    assert sentences(tmp_path, source, result, [(["slur"], [])]) == []
