"""The summary file, typed: numbers are exact fractions, places are (index, offset)."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from referee.sheet import NoteKey

Place = tuple[int, Fraction]
HANDS = ("left", "right")


@dataclass(frozen=True, slots=True)
class LeverHand:
    """A hand at the levers, in seconds."""

    move_s: Fraction
    away_s: Fraction
    back_s: Fraction


@dataclass(frozen=True, slots=True)
class Move:
    """One move as the summary tells it; *row* is its place in the list."""

    row: int
    part: str
    string: str
    position: str
    index: int
    offset: Fraction
    hand: str
    passes: frozenset[int] | None
    slack_s: Fraction
    cue: Place | None


@dataclass(frozen=True, slots=True)
class Sweep:
    """A glissando; *held* strings are damped by the other hand."""

    part: str
    index: int
    offset: Fraction
    until: Place
    low: str
    high: str
    hand: str
    foreign: frozenset[str]
    held: frozenset[str]
    tones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """Something left to the editor."""

    part: str
    index: int
    staff: int
    offset: Fraction
    pitches: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MarkEntry:
    """A mark in a change: where, and its text."""

    part: str
    index: int
    text: str
    offset: Fraction
    staff: int


@dataclass(frozen=True, slots=True)
class Change:
    """One entry of the change log."""

    id: str
    rule: str
    kind: str
    part: str
    index: int
    outcome: str
    notes: tuple[tuple[NoteKey, ...], tuple[NoteKey, ...]]
    marks: tuple[tuple[MarkEntry, ...], tuple[MarkEntry, ...]]
    depends_on: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Summary:
    """Everything that the referee takes from the summary file."""

    raw: Mapping[str, Any]
    parts: tuple[str, ...]
    hands: Mapping[tuple[str, int], str]
    reassigned: Mapping[tuple[str, int, int, Fraction, str], str]
    strings: Mapping[str, tuple[str, str | None]]
    players: Mapping[str, LeverHand | None]
    reach: Mapping[int, Fraction]
    ring_lock_s: Mapping[int, Fraction]
    tempo: tuple[tuple[int, Fraction, Fraction], ...]
    performed: tuple[int, ...]
    interval: str
    transposed_parts: frozenset[str]
    initial: tuple[tuple[str, str, str], ...]
    moves: tuple[Move, ...]
    sweeps: tuple[Sweep, ...]
    changes: tuple[Change, ...]
    open: tuple[OpenPoint, ...]

    def stretch(self, octave: int) -> Fraction:
        """How far a lever of that octave is: 1 where no number is given in between."""
        known = sorted(self.reach)
        if not known or octave in self.reach:
            return self.reach.get(octave, Fraction(1))
        if octave < known[0]:
            return self.reach[known[0]]
        return self.reach[known[-1]] if octave > known[-1] > 5 else Fraction(1)

    def ring(self, octave: int) -> Fraction:
        """How long a string of that octave must be left alone."""
        nearest = min(self.ring_lock_s, key=lambda known: abs(known - octave))
        return self.ring_lock_s[nearest]

    def harps(self) -> list[frozenset[str]]:
        """Parts by harp: a part for both hands is one, single hands join in pairs."""
        harps: list[frozenset[str]] = []
        single: dict[str, str] = {}
        for part in self.parts:
            hands = {hand for (p, _), hand in self.hands.items() if p == part}
            if len(hands) != 1:
                harps.append(frozenset({part}))
                continue
            hand = hands.pop()
            if hand in single:
                harps.append(frozenset(single.values()))
                single = {}
            single[hand] = part
        return [*harps, frozenset(single.values())] if single else harps


def exact(value: object) -> Fraction:
    """A number or a fraction as text."""
    return Fraction(str(value))


def place(raw: Mapping[str, Any]) -> Place:
    """Index and offset."""
    return int(raw["index"]), exact(raw["offset"])


def note_key(part: str, raw: Mapping[str, Any]) -> NoteKey:
    """A note in a change."""
    return (
        part, int(raw["index"]), exact(raw["offset"]), int(raw["staff"]), str(raw["voice"]),
        exact(raw["duration"]), bool(raw["grace"]), str(raw["pitch"]),
    )  # fmt: skip


def read_change(raw: Mapping[str, Any]) -> Change:
    """One entry of the change log."""
    part, kind = str(raw["part"]), str(raw["kind"])
    sides = [raw["before"] or [], raw["after"] or []]
    notes = [tuple(note_key(part, n) for n in side) if kind == "note" else () for side in sides]
    marks = [
        tuple(
            MarkEntry(
                part,
                int(m["index"]),
                str(m["text"]),
                Fraction(m["offset"]),
                int(m.get("staff", 0)),
            )
            for m in side
        )
        if kind == "mark"
        else ()
        for side in sides
    ]
    return Change(
        str(raw["id"]), str(raw["rule"]), kind, part, int(raw["index"]), str(raw["outcome"]),
        (notes[0], notes[1]), (marks[0], marks[1]),
        tuple(str(d) for d in raw["depends_on"]),
    )  # fmt: skip


def read_move(row: int, raw: Mapping[str, Any]) -> Move:
    """One move."""
    passes = raw["passes"]
    cue = raw.get("cue")
    return Move(
        row, str(raw["part"]), str(raw["string"]), str(raw["position"]), *place(raw),
        str(raw["hand"]), None if passes is None else frozenset(int(p) for p in passes),
        exact(raw["slack_s"]),
        place(cue) if cue else None,
    )  # fmt: skip


def read_sweep(raw: Mapping[str, Any]) -> Sweep:
    """One glissando."""
    return Sweep(
        str(raw["part"]), *place(raw), place(raw["until"]), str(raw["from"]), str(raw["to"]),
        str(raw["hand"]), frozenset(raw["foreign"]), frozenset(raw["held"]),
        tuple(str(t) for t in raw.get("tones") or ()),
    )  # fmt: skip


def read_player(raw: Mapping[str, Any] | None) -> LeverHand | None:
    """A hand at the levers, None where it moves none."""
    if raw is None:
        return None
    return LeverHand(exact(raw["move_s"]), exact(raw["away_s"]), exact(raw["back_s"]))


def octaves(raw: Mapping[str, Any]) -> dict[int, Fraction]:
    """Numbers by octave."""
    return {int(octave): exact(value) for octave, value in raw.items()}


def loads(text: str | bytes) -> dict[str, Any]:
    """The JSON document, with exact numbers."""
    loaded: dict[str, Any] = json.loads(text, parse_float=Fraction)
    return loaded


def read_summary(raw: Mapping[str, Any]) -> Summary:
    """The typed summary.

    Raises:
        KeyError, TypeError, ValueError: something is missing or is not what it should be.
    """
    player, levers = raw["player"], raw["levers"]
    return Summary(
        raw=raw,
        parts=tuple(raw["parts"]),
        hands={(h["part"], int(h["staff"])): h["hand"] for h in raw["hands"]},
        reassigned={
            (r["part"], int(r["index"]), int(r["staff"]), exact(r["offset"]), r["pitch"]): r[
                "hand"
            ]
            for r in raw["reassigned"]
        },
        strings={s["string"]: (s["open"], s["raised"]) for s in raw["harp"]["strings"]},
        players={hand: read_player(player[hand]) for hand in HANDS},
        reach=octaves(player["reach"]),
        ring_lock_s=octaves(player["ring_lock_s"]),
        tempo=tuple((*place(t), exact(t["quarters_per_minute"])) for t in raw["tempo"]),
        performed=tuple(int(i) for i in raw["performed"]),
        interval=str(raw["key"]["transposition"]["interval"]),
        transposed_parts=frozenset(raw["key"]["transposed_parts"]),
        initial=tuple(
            (str(i.get("part") or ""), i["string"], i["position"]) for i in levers["initial"]
        ),
        moves=tuple(read_move(row, move) for row, move in enumerate(levers["moves"])),
        sweeps=tuple(read_sweep(g) for g in raw["glissandi"]),
        changes=tuple(read_change(c) for c in raw["changes"]),
        open=tuple(
            OpenPoint(
                o["part"], int(o["index"]), int(o["staff"]), exact(o["offset"]),
                tuple(o["pitches"]),
            )
            for o in raw["open"]
        ),
    )  # fmt: skip
