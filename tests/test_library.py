"""The package as a library: every public name is there, and loading it costs nothing."""

import subprocess
import sys
from pathlib import Path

import pytest

import arrange


def test_every_public_name_can_be_used() -> None:
    assert len(arrange.__all__) <= 12
    for name in arrange.__all__:
        assert callable(getattr(arrange, name)), name


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'shuffle'"):
        arrange.shuffle  # noqa: B018 - the look-up is what is tested


def test_importing_the_package_loads_nothing_heavy() -> None:
    heavy = "music21 verovio deepdiff dask lxml arrange.pipeline"
    script = (
        "import sys, arrange, arrange.cli\n"
        f"print([name for name in {heavy.split()!r} if name in sys.modules])"
    )
    shown = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert shown.stdout.strip() == "[]"


def test_the_example_in_the_docstring_works(tmp_path: Path) -> None:
    corpus = Path(arrange.__file__).parents[1] / "corpus"
    harp = arrange.load_harp("lever-34")
    book = arrange.load_rulebook("concert", arrange.installed(), harp.player)
    source = arrange.read_source(corpus / "lullaby-windy-night.musicxml")
    conversion = arrange.convert(source, arrange.Settings(harp.harp, book))
    (tmp_path / "x.musicxml").write_bytes(conversion.result)
    assert conversion.is_sound
    assert arrange.summary(conversion)["format"] == "leverwright-summary"
