"""Scores of a few measures, written from one line a staff, and the summary that fits them."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from referee import pitches

DIVISIONS = 16
SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
ORNAMENTS = frozenset({"trill-mark", "turn", "mordent", "inverted-mordent"})
E_FLAT = {"E": -1, "A": -1, "B": -1}


def note_xml(word: str, voice: int, staff: int, key: Mapping[str, int]) -> str:
    """One note: ``F#4:1/2`` with ``~`` before or after for ties, ``+`` before for a chord.

    ``R:4`` is a rest, ``g`` before makes a grace note, ``c`` a cue note; ``!trill-mark`` after
    it adds an ornament, ``!tremolo3`` a tremolo, ``!arpeggiate`` a roll.
    """
    word, *signs = word.split("!")
    stop, start = word.startswith("~"), word.endswith("~")
    word = word.strip("~")
    chord, grace, cue = (word.startswith(mark) for mark in "+gc")
    name, _, length = word.lstrip("+gc").partition(":")
    parts = ["<note>", "<grace/>" if grace else "", "<cue/>" if cue else ""]
    parts.append("<chord/>" if chord else "")
    shown = ""
    if name == "R":
        parts.append("<rest/>")
    else:
        letter, alter, octave = pitches.parsed(name)
        parts.append(f"<pitch><step>{letter}</step><alter>{alter}</alter>")
        parts.append(f"<octave>{octave}</octave></pitch>")
        if alter != key.get(letter, 0) and not stop:
            shown = f"<accidental>{SIGNS[alter]}</accidental>"
    if not grace:
        parts.append(f"<duration>{int(Fraction(length) * DIVISIONS)}</duration>")
    ties = ['type="stop"'] * stop + ['type="start"'] * start
    parts += [f"<tie {tie}/>" for tie in ties]
    parts.append(f"<voice>{voice}</voice>{shown}<staff>{staff}</staff>")
    parts.append("<notations>" + "".join(f"<tied {tie}/>" for tie in ties))
    parts += [sign_xml(sign) for sign in signs]
    return "".join(parts) + "</notations></note>"


def sign_xml(sign: str) -> str:
    """A notation."""
    if sign.startswith("tremolo"):
        return f"<ornaments><tremolo>{sign[-1]}</tremolo></ornaments>"
    if sign in ORNAMENTS:
        return f"<ornaments><{sign}/></ornaments>"
    if sign == "fingering":
        return "<technical><fingering>5</fingering></technical>"
    return f"<{sign}/>"


def words_xml(offset: str, text: str) -> str:
    """A direction with words at an offset from the measure's start."""
    shift = int(Fraction(offset) * DIVISIONS)
    return (
        f"<direction><direction-type><words>{text}</words></direction-type>"
        f"<offset>{shift}</offset></direction>"
    )


def measure_xml(number: int, right: str, left: str, before: str = "", after: str = "") -> str:
    """A measure of two staves in common time."""
    return (
        f'<measure number="{number}">{before}{right}'
        f"<backup><duration>{4 * DIVISIONS}</duration></backup>{left}{after}</measure>"
    )


def repeat_xml(direction: str, location: str) -> str:
    """A repeat sign."""
    return f'<barline location="{location}"><repeat direction="{direction}"/></barline>'


def score_xml(
    staves: Sequence[tuple[str, str]], fifths: int, extras: Mapping[int, tuple[str, str]]
) -> bytes:
    """A harp score from (right, left) lines a measure; *extras*: (before, after) by index."""
    key = pitches.key_alters(fifths)
    attributes = (
        f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>"
        "<time><beats>4</beats><beat-type>4</beat-type></time><staves>2</staves></attributes>"
    )
    written = []
    for index, (right, left) in enumerate(staves):
        before, after = extras.get(index, ("", ""))
        hands = [
            "".join(note_xml(word, voice, staff, key) for word in line.split())
            for line, voice, staff in ((right, 1, 1), (left, 5, 2))
        ]
        start = attributes if index == 0 else ""
        written.append(measure_xml(index + 1, hands[0], hands[1], start + before, after))
    return (
        "<score-partwise><part-list><score-part id='P1'><part-name>Harp</part-name>"
        f"</score-part></part-list><part id='P1'>{''.join(written)}</part></score-partwise>"
    ).encode()


def strings(low: str, high: str, tuning: Mapping[str, int] = E_FLAT) -> list[dict[str, str]]:
    """The strings of a harp with every lever, from one letter and octave to another."""
    rows = []
    letter, octave = low[0], int(low[1:])
    while True:
        alter = tuning.get(letter, 0)
        name = f"{letter}{octave}"
        given = pitches.spelled(letter, alter, octave)
        raised = pitches.spelled(letter, alter + 1, octave)
        rows.append({"string": name, "open": given, "raised": raised})
        if name == high:
            return rows
        letter, octave = pitches.stepped(letter, octave, 1)


def place(index: int, offset: str) -> dict[str, Any]:
    """Index, printed number and offset."""
    return {"index": index, "measure": str(index + 1), "offset": offset}


def value(at: tuple[int, str, int], voice: str, duration: str, pitch: str) -> dict[str, Any]:
    """A note in a change; *at* is index, offset, staff."""
    return {
        "index": at[0], "offset": at[1], "staff": at[2], "voice": voice, "duration": duration,
        "grace": False, "pitch": pitch,
    }  # fmt: skip


def change(
    number: int, kind: str, index: int, before: list[dict[str, Any]], after: list[dict[str, Any]]
) -> dict[str, Any]:
    """An applied change."""
    return {
        "id": f"c{number}", "rule": f"rule-{number}", "kind": kind, "part": "P1",
        "index": index, "measure": str(index + 1), "outcome": "APPLIED", "fidelity": "EXACT",
        "before": before, "after": after, "reason": "As it must be.", "options": [],
        "depends_on": [],
    }  # fmt: skip


def move(string: str, position: str, at: tuple[int, str], **more: Any) -> dict[str, Any]:
    """A move of the left hand."""
    row = {
        "part": "P1", "string": string, "position": position, **place(*at), "hand": "left",
        "slack_s": 0.0, "passes": None, "cue": None,
    }  # fmt: skip
    return row | more


def summary_of(harp: list[dict[str, str]], performed: list[int], interval: str) -> dict[str, Any]:
    """A summary without moves or changes: all levers down, at sixty quarters a minute."""
    hand = {"move_s": 0.3, "away_s": 0.25, "back_s": 0.3}
    return {
        "format": "leverwright-summary", "version": 1,
        "source": {"file": "tiny.musicxml", "sha256": ""},
        "result": {"file": "tiny.lever.musicxml", "sha256": ""},
        "parts": ["P1"],
        "hands": [
            {"part": "P1", "staff": 1, "hand": "right"},
            {"part": "P1", "staff": 2, "hand": "left"},
        ],
        "reassigned": [],
        "harp": {"name": "tiny", "tuning": "E-flat", "strings": harp},
        "book": "concert",
        "player": {
            "left": hand, "right": None,
            "reach": {"2": 2.0, "3": 1.3, "4": 1.0, "5": 1.0, "6": 1.2},
            "ring_lock_s": {"2": 3.0, "3": 2.0, "4": 1.2, "5": 0.7, "6": 0.4},
        },
        "tempo": [{"index": 0, "offset": "0", "quarters_per_minute": "60"}],
        "performed": performed,
        "key": {
            "transposition": {
                "semitones": pitches.semitones_of(interval), "interval": interval,
            },
            "transposed_parts": ["P1"] if interval != "P1" else [],
            "from": "", "to": "", "ranking": [],
        },
        "levers": {
            "initial": [{"string": row["string"], "position": "down"} for row in harp],
            "moves": [], "proof": {"optimal": True, "bound": 0, "gap": 0},
        },
        "glissandi": [], "changes": [], "open": [],
        "check": {"playable": True, "violations": []},
        "audit": {"accounted": True, "unlogged": []},
    }  # fmt: skip


def written(
    folder: Path, source: bytes, result: bytes, summary: Mapping[str, Any]
) -> tuple[Path, Path, Path]:
    """Write the three files, with the hashes that belong to them."""
    paths = folder / "tiny.musicxml", folder / "tiny.lever.musicxml"
    rows = dict(summary)
    for name, path, content in zip(("source", "result"), paths, (source, result), strict=True):
        path.write_bytes(content)
        rows[name] = {"file": path.name, "sha256": hashlib.sha256(content).hexdigest()}
    told = folder / "tiny.lever.summary.json"
    told.write_text(json.dumps(rows))
    return *paths, told
