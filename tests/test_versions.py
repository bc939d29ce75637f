"""Several harps, several levels, a pupil's own numbers, a melody that the user points at."""

import json
from pathlib import Path

import pytest
from notation import to_musicxml

from arrange.cli import main
from arrange.errors import BadInput
from arrange.harp.files import load_harp
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.document import Document
from arrange.score.reading import Reading
from arrange.study.roles import Role, roles

TUNE = (
    "key=-2 tempo=96 name=Harp\n"
    "RH: D5q F5q Bb5h | A5q F5q G5h | F5q D5q Eb5q G5q | F5w\n"
    "LH: Bb2e F3e Bb3e F3e Bb2e F3e Bb3e F3e | F2e C3e F3e C3e Eb3e G3e Bb3e G3e | "
    "Bb2e F3e Bb3e F3e Eb3e G3e Bb3e G3e | Bb2+F3+D4w"
)
TWO_VOICES = "key=0\nRH: C6w | C6w\nRH2: E5q F5q G5q A5q | G5q F5q E5q D5q\nLH: C3w | C3w"
PUPIL = """\
name = "small-hands"
lowest = "C3"
highest = "C6"
levers = ["E", "A", "B", "F"]

[player]
right = false
grip = { strings = 5, rolled_strings = 5 }
"""


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    path = tmp_path / "tune.musicxml"
    path.write_bytes(to_musicxml(TUNE))
    return path


def summary_of(folder: Path, name: str) -> dict[str, object]:
    found: dict[str, object] = json.loads((folder / f"{name}.summary.json").read_text("utf-8"))
    return found


def test_a_class_gets_one_key_and_a_version_for_each_harp_and_level(
    tune: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "class"
    words = ["convert", str(tune), "-o", str(out), "--harp", "lever-34", "--harp", "lever-22-C"]
    assert main([*words, "--book", "beginner", "--book", "advanced"]) in {0, 3}
    names = [f"tune.{h}.{b}" for h in ("lever-34", "lever-22-C") for b in ("beginner", "advanced")]
    assert sorted(p.name for p in out.glob("*.musicxml")) == sorted(f"{n}.musicxml" for n in names)
    told = [summary_of(out, name) for name in names]
    moved = [row["key"]["transposition"]["semitones"] for row in told]  # type: ignore[index]
    assert len(set(moved)) == 1
    assert [row["harp"]["name"] for row in told] == ["lever-34"] * 2 + ["lever-22-C"] * 2  # type: ignore[index]
    table = capsys.readouterr().out.splitlines()[-5:]
    assert table[0].split() == ["harp", "book", "key", "notes", "moves", "open", "difficulty"]
    assert [line.split()[:2] for line in table[1:]] == [
        [harp, level] for harp in ("lever-34", "lever-22-C") for level in ("beginner", "advanced")
    ]


def test_one_harp_and_one_level_keep_the_usual_name(tune: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert main(["convert", str(tune), "-o", f"{out}/", "--book", "beginner"]) == 0
    assert [path.name for path in out.glob("*.musicxml")] == ["tune.musicxml"]


def test_several_versions_do_not_go_into_a_file(
    tune: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "taken.musicxml"
    taken.write_text("", encoding="utf-8")
    words = ["convert", str(tune), "-o", str(taken), "--book", "beginner", "--book", "advanced"]
    assert main(words) == 2
    assert "several versions go into a folder" in capsys.readouterr().err


def test_a_pupils_file_gives_levers_and_hands(tmp_path: Path) -> None:
    path = tmp_path / "pupil.toml"
    path.write_text(PUPIL, encoding="utf-8")
    harp_file = load_harp(str(path))
    player = load_rulebook("late-beginner", installed(), harp_file.player).player
    assert player.grip.strings == 5
    assert player.grip.notes == 3
    assert player.notes_a_second == 4
    assert harp_file.harp.strings[0].raised is None


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("nots_a_second = 3", "line 9: 'nots_a_second' is no setting"),
        ("notes_a_second = -3", "line 9: 'notes_a_second' takes a number, 0 or more, not -3"),
        ("moves_a_measure = 1.5", "line 9: 'moves_a_measure' takes a whole number"),
        ('lowest = "H2"', "line 9: 'lowest' takes a string, letter and octave"),
        ("together = true", "line 9: 'together' takes a number"),
    ],
)
def test_an_error_among_a_pupils_numbers_names_the_harp_file_and_the_line(
    line: str, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "pupil.toml"
    path.write_text(f"{PUPIL}{line}\n", encoding="utf-8")
    with pytest.raises(BadInput) as refusal:
        load_rulebook("beginner", installed(), load_harp(str(path)).player)
    assert str(refusal.value).startswith(f"pupil.toml: {said}")


def test_a_hand_holds_at_least_one_note(tmp_path: Path) -> None:
    path = tmp_path / "pupil.toml"
    path.write_text(PUPIL.replace("strings = 5, r", "strings = 0, r"), encoding="utf-8")
    with pytest.raises(BadInput, match=r"pupil.toml: line 8: a hand holds at least one note"):
        load_rulebook("beginner", installed(), load_harp(str(path)).player)


def test_a_rule_book_names_the_rules_that_it_adds(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('[rules]\nrun = "all"\nalso = ["thin-full-chords"]\n', encoding="utf-8")
    ids = [rule.id for rule in load_rulebook(str(path), installed()).rules]
    assert "thin-full-chords" in ids
    assert "slow-the-accompaniment" not in ids
    path.write_text('[rules]\nalso = ["thin-ful-chords"]\n', encoding="utf-8")
    with pytest.raises(BadInput, match=r"mine.toml: line 2: there is no rule 'thin-ful-chords'"):
        load_rulebook(str(path), installed())


def test_the_melody_is_where_the_user_says() -> None:
    document = Document.read(to_musicxml(TWO_VOICES), "two.musicxml")
    for named, melody_line in (((), "C6"), (((1, "2"),), "E5")):
        score = Reading(document, melody=named).score()
        found = {
            str(score.notes_by_id[event].pitch)
            for event, role in roles(score).items()
            if role.role is Role.MELODY
        }
        assert melody_line in found
        assert ("C6" in found) is (melody_line == "C6")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("3", "--melody 3: the harp has 2 staves"),
        ("1/9", "--melody 1/9: staff 1 has no such voice; it has 1"),
        ("upper", "--melody upper: write a staff"),
    ],
)
def test_a_melody_that_is_nowhere_is_refused(
    text: str, said: str, tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["convert", str(tune), "--melody", text]) == 2
    assert said in capsys.readouterr().err
    assert sorted(path.name for path in tune.parent.iterdir()) == ["tune.musicxml"]
