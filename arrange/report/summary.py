"""The summary file: what a conversion did, in the words that other programs rely on."""

import hashlib
from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import PurePath

from arrange.changes import OpenPoint, summary_change
from arrange.hands.player import LeverHand, Player
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.pipeline import Conversion
from arrange.pitch import Interval
from arrange.report.check_pages import violation_record
from arrange.report.decision_records import decision_record
from arrange.report.difficulty_records import difficulty_records
from arrange.report.lever_records import Record, glissando_records, lever_record
from arrange.score.container import Source
from arrange.score.model import Score
from arrange.study.keys import KeyWeight
from arrange.study.keysignature import key_name
from arrange.units import quarters_text

FORMAT = "leverwright-summary"
VERSION = 1


def summary(conversion: Conversion, *, result_name: str = "", source_sha256: str = "") -> Record:
    """Return the summary of a conversion as JSON content, keys in a fixed order.

    Args:
        conversion: what came of it.
        result_name: the file that the result goes into; ``STEM.lever.musicxml`` without one.
        source_sha256: of the source file, where its bytes are not those that were converted.
    """
    source = conversion.source
    raw = source.score_bytes if source.archive is None else source.archive.raw
    score, settings = conversion.score, conversion.settings
    staves = [staff for harp in score.harps for staff in harp]
    levers = lever_record(conversion)
    return {
        "format": FORMAT,
        "version": VERSION,
        "source": {"file": source.name, "sha256": source_sha256 or _sha256(raw)},
        "result": {
            "file": result_name or _result_name(source),
            "sha256": _sha256(conversion.result),
        },
        "parts": list(score.harp_parts),
        "hands": [{"part": s.part, "staff": s.staff, "hand": s.hand.value} for s in staves],
        "reassigned": list(_reassigned(score)),
        "harp": _harp(settings.harp),
        "book": settings.book.name,
        "player": _player(settings.book.player),
        "tempo": [
            {
                "index": t.index,
                "offset": quarters_text(t.offset),
                "quarters_per_minute": str(t.quarters_per_minute),
            }
            for t in score.tempo
        ],
        "performed": list(score.performed),
        "key": _key(conversion),
        "levers": levers,
        "glissandi": list(glissando_records(score, settings.harp)),
        "changes": [summary_change(entry) for entry in conversion.log.entries],
        "open": list(_open(conversion)),
        "decisions": decision_record(conversion.settlement),
        "difficulty": list(difficulty_records(conversion, levers)),
        "check": {
            "playable": not conversion.violations,
            "violations": [violation_record(v) for v in conversion.violations],
        },
        "audit": {
            "accounted": not conversion.unlogged,
            "unlogged": list(conversion.unlogged),
        },
    }


def _sha256(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()


def _result_name(source: Source) -> str:
    suffix = ".musicxml" if source.archive is None else ".mxl"
    return f"{PurePath(source.name).stem}.lever{suffix}"


def _reassigned(score: Score) -> Iterator[Record]:
    for event, hand in score.reassigned:
        note = score.notes_by_id[event]
        yield {
            "part": event.part,
            "index": event.index,
            "staff": note.staff,
            "offset": quarters_text(note.offset),
            "pitch": str(note.pitch),
            "hand": hand.value,
        }


def _harp(harp: Harp) -> Record:
    return {
        "name": harp.name,
        "tuning": harp.tuning,
        "strings": [
            {
                "string": string.name,
                "open": str(string.open),
                "raised": None if string.raised is None else str(string.raised),
            }
            for string in harp.strings
        ],
    }


def _player(player: Player) -> Record:
    return {
        "left": _lever_hand(player.left),
        "right": _lever_hand(player.right),
        "reach": _by_octave(player.reach),
        "ring_lock_s": _by_octave(player.ring_lock_s),
        "right_from_octave": player.right_from_octave,
        "chord_back_s": float(player.chord_back_s),
    }


def _lever_hand(hand: LeverHand | None) -> Record | None:
    if hand is None:
        return None
    return {
        "move_s": float(hand.move_s),
        "away_s": float(hand.away_s),
        "back_s": float(hand.back_s),
    }


def _by_octave(numbers: Mapping[int, Fraction]) -> dict[str, float]:
    return {str(octave): float(numbers[octave]) for octave in sorted(numbers)}


def _key(conversion: Conversion) -> Record:
    return {
        "transposition": _interval(conversion.interval),
        "transposed_parts": list(conversion.transposed_parts),
        "from": _key_at_the_start(conversion.before),
        "to": _key_at_the_start(conversion.score),
        "ranking": [_ranked(weight) for weight in conversion.ranking],
    }


def _interval(interval: Interval) -> Record:
    return {"semitones": interval.semitones, "interval": str(interval)}


def _key_at_the_start(score: Score) -> str:
    first = score.measure(score.harps[0][0].part, 0)
    return key_name(first.fifths[0], first.mode)


def _ranked(weight: KeyWeight) -> Record:
    return {
        **_interval(weight.interval),
        "key": weight.name,
        "altered": weight.altered,
        "moves": weight.moves,
        "open": weight.open,
        "cost": weight.cost,
        "exact": weight.is_exact,
    }


def _open(conversion: Conversion) -> Iterator[Record]:
    if conversion.is_again:
        yield from _still_open(conversion.score)
    for point in conversion.log.open_points:
        yield _open_point(point)


def _open_point(point: OpenPoint) -> Record:
    where = point.where
    return {
        "part": where.part,
        "index": where.index,
        "measure": where.measure,
        "staff": where.staff,
        "offset": quarters_text(where.offset),
        "pitches": list(point.pitches),
        "problem": point.problem,
        "suggestions": list(point.suggestions),
    }


def _still_open(score: Score) -> Iterator[Record]:
    """What the marks of an earlier conversion leave open."""
    for event in score.left_open:
        note = score.notes_by_id[event]
        yield {
            "part": event.part,
            "index": event.index,
            "measure": score.measure(event.part, event.index).number,
            "staff": note.staff,
            "offset": quarters_text(note.offset),
            "pitches": [str(note.pitch)],
            "problem": f"The {note_in_words(note.pitch)} was left open when the score was made.",
            "suggestions": [],
        }
