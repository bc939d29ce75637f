"""What the top of the page says: the title statement and how to set the harp."""

from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.harp.wording import key_in_words, setting_in_words
from arrange.pitch import UNISON, Interval
from arrange.score.model import Score
from arrange.study.keysignature import key_name, wanted_positions
from arrange.study.levering import LeverPlan

FEW_OPEN = 4
"""So few open notes are an editor's five minutes, however short the piece (house judgement)."""
MEASURES_FOR_ONE_OPEN = 3
"""Where notes are left open more often than once in so many measures, a piece does not suit its
harp (house judgement)."""


def opening_key(score: Score, plan: LeverPlan) -> tuple[int, str]:
    """Key signature (fifths) and mode of the harp's first measure."""
    first = score.by_part[plan.staves[0].part].measures[0]
    return first.fifths[0], first.mode


def original_key(score: Score, plan: LeverPlan, moved_by: Interval) -> str:
    """The key from which the harp's part was moved; empty where it was not."""
    if moved_by == UNISON:
        return ""
    fifths, mode = opening_key(score, plan)
    back = fifths - moved_by.fifths
    return key_name(back if -7 <= back <= 7 else (back + 6) % 12 - 6, mode)


def statement(plan: LeverPlan, harp: Harp, level: str, original: str = "") -> str:
    """What buyers choose by: harp, strings used, moves, level, and the key of the *original*."""
    strings = sorted(
        home.string for t in plan.treatments if t.pitch and (home := harp.home_as_spelled(t.pitch))
    )
    used = (
        f", uses {harp.strings[strings[0]].name} to {harp.strings[strings[-1]].name}"
        if strings
        else ""
    )
    count = len(plan.moves)
    moves = f"{count} lever move{'' if count == 1 else 's'}" if count else "no lever moves"
    return (
        f"Lever harp, {len(harp.strings)} strings "
        f"({harp.strings[0].name} to {harp.strings[-1].name}){used}. "
        f"{moves[0].upper()}{moves[1:]}. Level: {level}."
        + (f" Transposed from {key_in_words(original)}." if original else "")
    )


def setting(score: Score, plan: LeverPlan, harp: Harp) -> str:
    """Tuning, key, letters that are up, and the strings that differ."""
    fifths, mode = opening_key(score, plan)
    return setting_in_words(
        harp, key_name(fifths, mode), wanted_positions(harp, fifths), plan.initial
    )


def too_many_presets(score: Score, plan: LeverPlan, harp: Harp, player: Player) -> str:
    """A sentence where more levers than this player should have to set apart from the key
    signature stand so before the first note; else empty.
    """
    fifths, _ = opening_key(score, plan)
    wanted = wanted_positions(harp, fifths)
    count = sum(
        position is not None and plan.initial[string.name] is not position
        for string, position in zip(harp.strings, wanted, strict=True)
    )
    if count <= player.presets_apart:
        return ""
    return (
        f"{count} levers stand apart from the key signature before the first note; "
        f"this book asks for {player.presets_apart} at most."
    )


def too_many_moves(score: Score, plan: LeverPlan, player: Player) -> str:
    """A sentence where the moves are more than this player should have; else empty."""
    measures = len(score.by_part[plan.staves[0].part].measures)
    allowed = min(int(player.moves_on_average * measures), player.moves_in_piece)
    if len(plan.moves) > allowed:
        return (
            f"{len(plan.moves)} lever moves in {measures} measures; "
            f"this book asks for {allowed} at most."
        )
    peaks: dict[int, int] = {}
    for move in plan.moves:
        peaks[move.index] = peaks.get(move.index, 0) + 1
    busiest = max(peaks, key=lambda i: peaks[i], default=-1)
    if busiest >= 0 and peaks[busiest] > player.moves_a_measure:
        number = score.measure(plan.staves[0].part, busiest).number
        return (
            f"{peaks[busiest]} lever moves in measure {number}; "
            f"this book asks for {player.moves_a_measure} at most."
        )
    return ""


def too_many_open(score: Score, plan: LeverPlan) -> str:
    """A sentence where so many notes are left open that the piece does not suit; else empty."""
    measures = len(score.by_part[plan.staves[0].part].measures)
    count = len({t.pluck.note for t in plan.treatments if t.label == "open"})
    if count < FEW_OPEN or count * MEASURES_FOR_ONE_OPEN <= measures:
        return ""
    return (
        f"{count} notes are left open in {measures} measures: as it stands the piece asks for "
        "pedals; a slower tempo or another version may suit."
    )
