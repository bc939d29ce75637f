"""Every promise, held to scores that nobody would write: short, dense and awkward on purpose."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import notation as short
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as effort
from invented_scores import numbered_score, scores
from schema import schema_faults
from test_real_scores import held_to_every_promise, settings

from arrange.apply.replay import replay
from arrange.apply.transposing import transpose
from arrange.changes import Outcome, from_lines, to_lines
from arrange.decisions.records import Decision, Decisions, Kind
from arrange.pipeline import Conversion, convert
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.container import Source
from arrange.score.document import Document
from arrange.score.reading import Reading

HARPS = ("lever-34", "lever-26", "lever-22", "lever-34-C")
SEEDS = range(40)
CLOSER = range(3, 40, 4)
"""The scores that are looked at from all sides."""


def harp_of(seed: int) -> str:
    return HARPS[seed % len(HARPS)]


def source_of(seed: int) -> Source:
    return Source(f"{seed}.musicxml", numbered_score(seed), None, ())


@cache
def converted(seed: int) -> Conversion:
    return convert(source_of(seed), settings(harp=harp_of(seed)))


@pytest.mark.parametrize("seed", SEEDS)
def test_an_invented_score_keeps_every_promise(seed: int, tmp_path: Path) -> None:
    raw = numbered_score(seed)
    assert schema_faults(raw) == []
    path = tmp_path / f"{seed}.musicxml"
    path.write_bytes(raw)
    out = tmp_path / "out"
    out.mkdir()
    held_to_every_promise(path, settings(harp=harp_of(seed)), out)


@effort(
    max_examples=12,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(raw=scores())
def test_any_score_that_hypothesis_throws_keeps_every_promise(
    raw: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("thrown")
    path = folder / "thrown.musicxml"
    path.write_bytes(raw)
    out = folder / "out"
    out.mkdir()
    held_to_every_promise(path, settings(harp="lever-26"), out)


@pytest.mark.parametrize("seed", CLOSER)
def test_the_empty_book_gives_an_invented_score_back(seed: int) -> None:
    plain = replace(settings(), book=load_rulebook("none", installed()))
    conversion = convert(source_of(seed), plain)
    assert conversion.result == numbered_score(seed)
    assert conversion.is_sound


@pytest.mark.parametrize("seed", CLOSER)
def test_the_log_of_an_invented_score_replays_from_its_json(seed: int) -> None:
    conversion = converted(seed)
    document = Document.read(numbered_score(seed), conversion.source.name)
    reading = Reading(document)
    transpose(document, conversion.transposed_parts, conversion.interval)
    replay(document, reading, from_lines(to_lines(conversion.log)))
    assert document.to_bytes() == conversion.result


@pytest.mark.parametrize("seed", CLOSER)
def test_an_invented_score_without_one_change_is_sound(seed: int) -> None:
    plain = converted(seed)
    applied = plain.log.applied()
    gone = applied[len(applied) // 2].id
    asked = Decisions(entries=(Decision(Kind.DECLINE, change=gone),))
    found = convert(plain.source, replace(plain.settings, decisions=asked))
    assert found.is_sound, (found.violations, found.unlogged)
    (outcome,) = [e.outcome for e in found.log.entries if e.change.id == gone]
    assert outcome is Outcome.DECLINED


@pytest.mark.parametrize("seed", CLOSER)
def test_an_invented_score_without_any_change_is_sound(seed: int) -> None:
    plain = converted(seed)
    every = replace(plain.settings, decisions=Decisions(declines_all=True))
    found = convert(plain.source, every)
    assert found.is_sound, (found.violations, found.unlogged)
    assert found.log.applied() == []


# Small scores of what invented ones have brought to light.
PLANTED = {
    "a glissando keeps its tones where an accidental before it goes": (
        "key=-3 tempo=60 | C#4+E4h C4q(gliss) C5q(gliss-end) | rw"
    ),
    "the note that a line leaves is tied to the one before": (
        "key=0 tempo=60 | A#3q~ A#3q(gliss) A#4h(gliss-end)"
    ),
    "a run beside a high note of the same hand": (
        "key=-3 tempo=60\nRH: rh C4h(gliss) | C5w(gliss-end)\n"
        "RH2: F6e E6e F6e E6e F6e E6e F6e E6e | G6w"
    ),
    "an unison of a tied note and a struck one": (
        "key=0 tempo=60\nRH: C5w~ | C5w\nLH: C5q D4q E4q F4q | C3w"
    ),
    "too wide over both staves": (
        "key=0 tempo=60\nRH: C#6+D6+E6+F6+G6w | C6w\nLH: C2+D2+E2+F2+G4w | C3w"
    ),
}


@pytest.mark.parametrize("name", PLANTED)
@pytest.mark.parametrize("harp", HARPS)
def test_a_small_score_with_one_snag_keeps_every_promise(
    name: str, harp: str, tmp_path: Path
) -> None:
    path = tmp_path / "snag.musicxml"
    path.write_bytes(short.to_musicxml(PLANTED[name]))
    out = tmp_path / "out"
    out.mkdir()
    held_to_every_promise(path, settings(harp=harp), out)
