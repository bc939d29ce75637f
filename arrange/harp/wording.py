"""How strings, notes and lever settings are said on the page, and how a page is read back.

This is the one place that decides the style of cues. It says the resulting note, never "up" or
"down", spells naturals, and names the octave by a word; TRADE customs: common practice, the
five octave words: from memory.
"""

import re
from collections.abc import Mapping
from textwrap import fill

from arrange.harp.harp import Harp, Position
from arrange.pitch import LETTERS, Pitch

OCTAVE_WORDS = {2: "very low", 3: "low", 4: "middle", 5: "high", 6: "very high"}
SIGN_WORDS = {
    0: "natural",
    1: "sharp",
    2: "double sharp",
    3: "triple sharp",
    -1: "flat",
    -2: "double flat",
    -3: "triple flat",
}
SHARPWARD = "EABFCGD"
"""The order in which players raise letters from the E-flat tuning."""
ORDINALS = ("0th", "1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th", "9th", "10th")
LEGEND = (
    "Lever cues name the note that the string sounds from there on "
    "(very low: from C2, low: C3, middle: C4, high: C5, very high: C6); "
    "left hand unless marked R.H."
)
LINE_LENGTH = 72
"""Most characters in a line of words above or below the music (house judgement)."""
_NOTE = re.compile(
    r"(?:(?P<word>very low|low|middle|high|very high)|(?P<octave>\d+)(?:st|nd|rd|th)-octave) "
    r"(?P<letter>[A-G]) (?P<sign>double sharp|double flat|flat|natural|sharp)"
)
_SETTING = re.compile(r"Set levers for [^(]*\((?P<up>[^)]*)\)\.(?: Also set: (?P<also>[^.]*)\.)?")


def wrapped(text: str) -> str:
    """The text in lines that fit a page beside the music."""
    return fill(text, LINE_LENGTH, break_on_hyphens=False)


def harp_octave(letter: str, octave: int) -> int:
    """The octave that harp strings are sold by: from the top, each from E down to F.

    Source: published string charts (common practice of the string trade).
    """
    return (8 if letter in "CDE" else 7) - octave


def note_in_words(pitch: Pitch) -> str:
    """``middle C sharp``; outside the five octave words, ``6th-octave A flat``."""
    word = OCTAVE_WORDS.get(pitch.octave)
    if word is None:
        word = f"{ORDINALS[harp_octave(pitch.step, pitch.octave)]}-octave"
    return f"{word} {class_in_words(pitch)}"


def class_in_words(pitch: Pitch) -> str:
    """``C sharp``, ``B natural``."""
    return f"{pitch.step} {SIGN_WORDS[pitch.alter]}"


def read_note(words: str) -> Pitch | None:
    """Read what ``note_in_words`` wrote; None where it is something else."""
    match = _NOTE.fullmatch(words.strip())
    if match is None:
        return None
    letter = match["letter"]
    if match["word"]:
        octave = next(o for o, word in OCTAVE_WORDS.items() if word == match["word"])
    else:
        octave = (8 if letter in "CDE" else 7) - int(match["octave"])
    alter = next(a for a, word in SIGN_WORDS.items() if word == match["sign"])
    return Pitch(letter, alter, octave)


def setting_in_words(
    harp: Harp, key: str, wanted: tuple[Position | None, ...], initial: Mapping[str, Position]
) -> str:
    """Say how the levers stand before the first note.

    Args:
        harp: the harp.
        key: the key's name, ``G major``.
        wanted: what the key signature asks of each string.
        initial: the position of every string that has a lever, by string name.
    """
    up = _letters_up(harp, wanted)
    text = f"Tuning: {harp.tuning}. Set levers for {key} "
    text += f"({', '.join(up)} up)." if up else "(all levers down)."
    apart = _apart(harp, up, initial)
    return text + (f" Also set: {', '.join(apart)}." if apart else "")


def _letters_up(harp: Harp, wanted: tuple[Position | None, ...]) -> list[str]:
    raised = {
        string.letter
        for string, position in zip(harp.strings, wanted, strict=True)
        if position is Position.UP
    }
    return [letter for letter in SHARPWARD if letter in raised]


def _apart(harp: Harp, up: list[str], initial: Mapping[str, Position]) -> list[str]:
    """What differs from the letters that are up: whole letters first, then single strings."""
    whole: list[str] = []
    single: list[str] = []
    for letter in LETTERS:
        base = Position.UP if letter in up else Position.DOWN
        strings = [s for s in harp.strings if s.letter == letter and s.name in initial]
        other = [s for s in strings if initial[s.name] is not base]
        pitches = [p for s in other if (p := s.pitch(initial[s.name])) is not None]
        if len(other) == len(strings) > 1 and len({p.alter for p in pitches}) == 1:
            whole.append(f"every {class_in_words(pitches[0])}")
        else:
            single.extend(note_in_words(p) for p in pitches)
    return whole + single


def read_setting(text: str, harp: Harp) -> dict[str, Position] | None:
    """Read what ``setting_in_words`` wrote: the position of every string that has a lever."""
    match = _SETTING.search(" ".join(text.split()))
    if match is None:
        return None
    letters = re.findall(r"[A-G]", match["up"]) if match["up"].endswith(" up") else []
    standing = {
        s.name: Position.UP if s.letter in letters else Position.DOWN
        for s in harp.strings
        if s.raised is not None
    }
    for words in (match["also"] or "").split(", ") if match["also"] else ():
        standing |= dict(_said(words, harp))
    return standing


def _said(words: str, harp: Harp) -> list[tuple[str, Position]]:
    if words.startswith("every "):
        letter, sign = words.removeprefix("every ").split(" ", 1)
        alter = next((a for a, word in SIGN_WORDS.items() if word == sign), 0)
        pitches = [Pitch(letter, alter, s.octave) for s in harp.strings if s.letter == letter]
    else:
        pitch = read_note(words)
        pitches = [pitch] if pitch is not None else []
    homes = [home for p in pitches if (home := harp.home_as_spelled(p)) is not None]
    return [(harp.strings[home.string].name, home.position) for home in homes]
