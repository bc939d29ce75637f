"""Levels: nested rule books, and pieces that become lighter level by level and stay themselves."""

import hashlib
import importlib.util
import json
from dataclasses import fields, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import notation as short
import pytest
from referee import judge
from schema import schema_faults

from arrange.edits import RemoveNote, SetPitch
from arrange.hands.player import LeverHand, Player
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert, shared_keys
from arrange.pitch import Pitch
from arrange.registry import installed
from arrange.report.summary import summary
from arrange.report.versions import Version
from arrange.rulebook import RuleBook, load_rulebook
from arrange.score.container import read_source, read_source_bytes
from arrange.score.model import EventId
from arrange.study.difficulty import Level
from arrange.study.roles import Role, roles

LEVELS = ("beginner", "late-beginner", "intermediate", "advanced")
ROOT = Path(__file__).resolve().parent.parent
_FOUND = importlib.util.find_spec("music21")
assert _FOUND is not None
assert _FOUND.origin is not None
LIBRARY = Path(_FOUND.origin).parent / "corpus"
PIECES = (
    LIBRARY / "mozart/k545/movement1_exposition.mxl",
    LIBRARY / "liliuokalani/aloha_oe.mxl",
    LIBRARY / "corelli/opus3no1/1grave.xml",
    LIBRARY / "schoenberg/opus19/movement2.mxl",
    LIBRARY / "bach/bwv846.mxl",
    ROOT / "corpus/minuet-da-capo.musicxml",
    ROOT / "corpus/lullaby-windy-night.musicxml",
    ROOT / "corpus/song-ferrymans-lamp.musicxml",
    ROOT / "corpus/skylight-piano.musicxml",
    LIBRARY / "beach/prayer_of_a_tired_child.musicxml",
    LIBRARY / "schumann_clara/polonaise_op1n4.mxl",
)
NOTHING_TO_SPARE = {"minuet-da-capo"}
"""Light as it is: every level has all of its notes."""
FEW_SEAMS = 4
"""Where a short melody may change its octave: into another one and back, twice."""
LEVER_RULES = {"spare-lever-moves", "free-left-hand", "set-levers"}
HARP = load_harp("lever-34").harp


def book(name: str) -> RuleBook:
    return load_rulebook(name, installed())


def hand_s(hand: LeverHand | None) -> tuple[Fraction, ...]:
    """A hand's times; one that moves no lever is slower than any."""
    slowest = Fraction(1000)
    return (hand.move_s, hand.away_s, hand.back_s) if hand else (slowest, slowest, slowest)


def lowest(name: str) -> int:
    return Pitch.parse(name).line if name else 0


def highest(name: str) -> int:
    return Pitch.parse(name).line if name else 1000


def allowed(player: Player) -> dict[str, tuple[int | Fraction, ...]]:
    """Every number of a player, turned so that more is more."""
    grip = player.grip
    return {
        "left": tuple(-time for time in hand_s(player.left)),
        "right": tuple(-time for time in hand_s(player.right)),
        "right_from_octave": (-player.right_from_octave,),
        "chord_back_s": (-player.chord_back_s,),
        "reach": tuple(-player.reach[octave] for octave in sorted(player.reach)),
        "ring_lock_s": tuple(-player.ring_lock_s[octave] for octave in sorted(player.ring_lock_s)),
        "grip": (grip.notes, grip.strings, grip.rolled_strings, grip.wide_gap, grip.close_gap),
        "cue_ahead_beats": (-player.cue_ahead_beats,),
        "moves_lowest": (-lowest(player.moves_lowest),),
        "moves_a_measure": (player.moves_a_measure,),
        "moves_on_average": (player.moves_on_average,),
        "moves_in_piece": (player.moves_in_piece,),
        "presets_apart": (player.presets_apart,),
        "together": (player.together,),
        "notes_a_second": (player.notes_a_second,),
        "leap_strings": (player.leap_strings,),
        "signs": (player.signs,),
        "lowest": (-lowest(player.lowest),),
        "highest": (highest(player.highest),),
    }


def test_what_a_level_allows_is_allowed_above_it() -> None:
    players = [allowed(book(name).player) for name in (*LEVELS, "concert")]
    assert set(players[0]) == {field.name for field in fields(Player)}
    for lower, upper in pairwise(players):
        for name, numbers in lower.items():
            assert all(a <= b for a, b in zip(numbers, upper[name], strict=True)), name


def test_each_level_differs_from_the_next() -> None:
    for lower, upper in pairwise(allowed(book(name).player) for name in LEVELS):
        assert sum(lower[name] != upper[name] for name in lower) >= 8


def test_a_simplification_that_a_level_does_without_no_level_above_it_has() -> None:
    chosen = [{rule.id for rule in book(name).rules if rule.on_request} for name in LEVELS]
    for lower, upper in pairwise(chosen):
        assert upper <= lower
    for name in ("leave-out-ornaments", "slow-the-accompaniment"):
        rules = [rule for level in LEVELS for rule in book(level).rules if rule.id == name]
        for lower_rule, upper_rule in pairwise(rules):
            for field in fields(lower_rule):  # type: ignore[arg-type] # rules are dataclasses
                spared = getattr(lower_rule, field.name), getattr(upper_rule, field.name)
                if isinstance(spared[0], bool) and name == "leave-out-ornaments":
                    assert spared[0] <= spared[1], field.name


def test_the_concert_book_simplifies_nothing() -> None:
    assert [rule.id for rule in book("concert").rules if rule.on_request] == []


@pytest.fixture(scope="module", params=PIECES, ids=lambda path: path.stem)
def versions(request: pytest.FixtureRequest) -> tuple[Path, list[Conversion]]:
    """A piece at every level, the lowest first, in one key for all."""
    path: Path = request.param
    source = read_source(path)
    asked = [Settings(HARP, book(name)) for name in LEVELS]
    keys = shared_keys(source, asked)
    made = [convert(source, replace(a, key=key)) for a, key in zip(asked, keys, strict=True)]
    return path, made


def test_every_version_can_be_played_and_is_accounted_for(
    versions: tuple[Path, list[Conversion]],
) -> None:
    for conversion in versions[1]:
        assert conversion.violations == ()
        assert conversion.unlogged == ()


def test_versions_of_several_levels_share_one_transposition(
    versions: tuple[Path, list[Conversion]],
) -> None:
    assert len({conversion.interval.semitones for conversion in versions[1]}) == 1


def test_level_by_level_there_are_no_more_notes_and_nothing_is_harder(
    versions: tuple[Path, list[Conversion]],
) -> None:
    rows = [Version.of(conversion) for conversion in versions[1]]
    for lower, upper in pairwise(rows):
        assert lower.notes <= upper.notes
        assert lower.moves <= upper.moves
        assert level_of(lower) <= level_of(upper)
    assert rows[0].notes < rows[-1].notes or versions[0].stem in NOTHING_TO_SPARE
    assert rows[0].moves == 0


def test_what_a_level_leaves_to_the_levers_falls_level_by_level(
    versions: tuple[Path, list[Conversion]],
) -> None:
    """The notes before any of them gives way to a lever, or is left open for want of one."""
    counts = [
        Version.of(conversion).notes
        + len(conversion.score.left_open)
        + gone_for_levers(conversion)
        for conversion in versions[1]
    ]
    assert counts == sorted(counts)


def gone_for_levers(conversion: Conversion) -> int:
    return sum(
        isinstance(edit, RemoveNote)
        for change in conversion.log.applied()
        if change.rule in LEVER_RULES
        for edit in change.edits
    )


def level_of(version: Version) -> Level:
    return Level[version.difficulty.upper().replace("-", "_")]


def test_a_note_that_a_lever_cannot_give_goes_to_no_string_that_the_level_does_without(
    versions: tuple[Path, list[Conversion]],
) -> None:
    for conversion in versions[1]:
        player = conversion.settings.book.player
        used = range(lowest(player.lowest), highest(player.highest) + 1)
        for change in conversion.log.applied():
            for edit in change.edits:
                if change.rule == "set-levers" and isinstance(edit, SetPitch):
                    was_used = edit.before.pitch.line in used
                    assert edit.after.pitch.line in used or not was_used, change.reason


def test_the_melody_keeps_its_onsets_its_shape_and_all_but_listed_pitches(
    versions: tuple[Path, list[Conversion]],
) -> None:
    for conversion in versions[1]:
        require_melody(conversion)


def require_melody(conversion: Conversion) -> None:
    """See that every melody note is struck when it was, and where it is not, the log says so.

    A note that is left out since its octave stays counts as sung an octave away. What is left to
    the editor stands as the source has it, so it tells nothing of the shape.
    """
    listed = {
        edit.note
        for change in conversion.log.applied()
        for edit in change.edits
        if isinstance(edit, SetPitch | RemoveNote)
    }
    sung = melody_of(conversion)
    assert len(sung) > 15
    score = conversion.score
    left_open = {(e.part, e.index, score.notes_by_id[e].offset) for e in score.left_open}
    shifts = []
    for event, wanted, struck in sung:
        octaves = [midi - wanted for midi in struck if (midi - wanted) % 12 == 0]
        assert octaves, event
        shift = min(octaves, key=abs)
        assert shift == 0 or event in listed, event
        place = event.part, event.index, conversion.before.notes_by_id[event].offset
        if place not in left_open:
            shifts.append(shift)
    seams = sum(1 for one, other in pairwise(shifts) if one != other)
    assert seams <= max(FEW_SEAMS, len(sung) // 7)


def test_a_melody_keeps_its_onsets_where_one_of_its_octaves_has_no_string() -> None:
    source = read_source(LIBRARY / "schumann_clara/polonaise_op1n1.mxl")
    conversion = convert(source, Settings(HARP, book("beginner"), key="M2"))
    handed_on = [
        change
        for change in conversion.log.applied()
        if "the note that stays has the melody" in change.reason
    ]
    assert handed_on
    require_melody(conversion)


def test_the_octave_that_stays_is_then_the_melody_and_is_never_traded() -> None:
    """It leaves the key, and no hand has time for a lever: an inner note would give way."""
    text = (
        "key=0 tempo=100 name=Harp\n"
        "RH: G5+G6q G#5+G#6q A5+A6q G5+G6q | F5+F6w | F5+F6w\n"
        "LH: C3q E3q C3q E3q | C3q E3q C3q E3q | C3q E3q C3q E3q"
    )
    source = read_source_bytes(short.to_musicxml(text), "song.musicxml")
    conversion = convert(source, Settings(HARP, book("late-beginner"), key="keep"))
    dropped = [c for c in conversion.log.applied() if c.rule == "fold-into-compass"]
    assert [c.edits[0].before.pitch for c in dropped] == [  # type: ignore[union-attr]
        Pitch.parse(name) for name in ("G6", "G#6", "A6", "G6")
    ]
    first = conversion.score.measure("P1", 0).notes
    sung = [str(note.pitch) for note in first if note.staff == 1]
    assert sung == ["G5", "G#5", "A5", "G5"]


def melody_of(conversion: Conversion) -> list[tuple[EventId, int, set[int]]]:
    """Each melody note: where it goes by the transposition, and what is struck there now."""
    named = roles(conversion.before)
    score = conversion.score
    found = []
    for part in conversion.before.harp_parts:
        for measure in conversion.before.by_part[part].measures:
            for note in measure.notes:
                role = named.get(note.id)
                if role is None or role.role is not Role.MELODY or note.is_grace:
                    continue
                struck = {
                    n.pitch.midi
                    for n in score.measure(part, measure.index).notes
                    if n.offset == note.offset and not n.is_grace and n.tied_from is note.tied_from
                }
                wanted = note.pitch.midi + conversion.interval.semitones
                found.append((note.id, wanted, struck))
    return found


def test_the_referee_agrees_and_a_second_conversion_changes_nothing(
    versions: tuple[Path, list[Conversion]], tmp_path: Path
) -> None:
    path, made = versions
    is_valid = not schema_faults(read_source(path).score_bytes)
    for conversion in made:
        result = tmp_path / path.name
        result.write_bytes(conversion.result)
        sha = hashlib.sha256(path.read_bytes()).hexdigest()
        told = tmp_path / "told.summary.json"
        record = summary(conversion, result_name=path.name, source_sha256=sha)
        told.write_text(json.dumps(record), encoding="utf-8")
        assert judge(path, result, told) == []
        if is_valid:
            written = read_source_bytes(conversion.result, path.name)
            assert schema_faults(written.score_bytes) == []
        again = convert(read_source(result), replace(conversion.settings, key="auto"))
        assert again.result == conversion.result


def test_a_melody_note_that_another_voice_doubles_on_its_string_is_never_left_out() -> None:
    """The longer note is the pluck; the melody is plucked with it."""
    text = (
        "key=0 tempo=120 name=Harp\n"
        "RH: F5q F#5q F5q A5q | F5w\nRH2: rq F#5h rq | D5w\n"
        "LH: C3e F4e C4e F4e C3e F4e C4e F4e | B3w"
    )
    source = read_source_bytes(short.to_musicxml(text), "song.musicxml")
    for level in ("advanced", "concert"):
        conversion = convert(source, Settings(HARP, book(level), key="keep", melody=((1, "1"),)))
        kept = [str(n.pitch) for n in conversion.score.measure("P1", 0).notes if n.staff == 1]
        assert kept.count("F#5") == 2
