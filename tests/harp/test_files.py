"""Harps by name and from a user's file."""

from pathlib import Path

import pytest

from arrange.errors import BadInput
from arrange.harp.files import harp_names, load_harp

COMPASSES = {  # what strings occur (from memory but for 34 and 38, which are published)
    "lever-22": ("C4", "C7"), "lever-26": ("F3", "C7"), "lever-27": ("C3", "A6"),
    "lever-29": ("C3", "C7"), "lever-33": ("C2", "G6"), "lever-34": ("C2", "A6"),
    "lever-36": ("C2", "C7"), "lever-38": ("A1", "C7"), "lever-40": ("G1", "D7"),
}  # fmt: skip


def written(folder: Path, text: str) -> str:
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_the_harps_that_ship_have_the_compasses_that_occur() -> None:
    assert set(harp_names()) == set(COMPASSES)
    for name, (low, high) in COMPASSES.items():
        strings = load_harp(name).harp.strings
        assert (strings[0].name, strings[-1].name) == (low, high)


def test_a_name_may_carry_another_tuning() -> None:
    harp = load_harp("lever-34-B-flat").harp
    assert (harp.name, harp.tuning) == ("lever-34-B-flat", "B-flat")
    assert {s.letter for s in harp.strings if s.open.alter == -1} == {"B", "E"}


def test_an_unknown_harp_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(BadInput, match="lever-34"):
        load_harp("lever-35")


def test_a_users_file_may_lack_levers_and_tune_single_strings(tmp_path: Path) -> None:
    text = (
        'name = "small"\nlowest = "F3"\nhighest = "C7"\ntuning = "C"\n'
        'levers = ["C", "F"]\nwithout_levers = ["C7"]\n[tuned]\nF3 = "E3"\nB = "Bb"\n'
        "[player]\nright = false\n"
    )
    file = load_harp(written(tmp_path, text))
    strings = {s.name: s for s in file.harp.strings}
    assert str(strings["F3"].open) == "E3"
    assert str(strings["B4"].open) == "Bb4"
    assert strings["C7"].raised is None
    assert strings["B4"].raised is None
    assert str(strings["C5"].raised) == "C#5"
    assert file.player == {"right": False}


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('lowest = "C2"\nhighest = "A6"\ncolour = "red"\n', 3),
        ('lowest = "C2"\nhighest = "Q6"\n', 2),
        ('lowest = "C2"\nhighest = "A6"\ntuning = "D"\n', 3),
        ('lowest = "A6"\nhighest = "C2"\n', 2),
        ('lowest = "C2"\nhighest = "A6"\nlevers = ["H"]\n', 3),
        ('lowest = "C2"\nhighest = "A6"\nwithout_levers = ["C9"]\n', 3),
        ('lowest = "C2"\nhighest = "A6"\n\n[tuned]\nC4 = "H"\n', 5),
    ],
)
def test_an_error_in_a_file_names_its_line(tmp_path: Path, text: str, line: int) -> None:
    with pytest.raises(BadInput, match=rf"mine\.toml.*line {line}\b"):
        load_harp(written(tmp_path, text))
