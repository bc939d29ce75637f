"""How strings, notes and lever settings are said on the page, and how a page is read back.

This is the one place that decides the style of cues. It says the resulting note, never "up" or
"down", spells naturals, and names the octave by a word; TRADE customs: common practice, the
five octave words: from memory.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from textwrap import fill

from arrange.harp.harp import Harp, HarpString, Position
from arrange.phrasing import listed
from arrange.pitch import LETTERS, Pitch

OCTAVE_WORDS = {2: "very low", 3: "low", 4: "middle", 5: "high", 6: "very high"}
SIGN_WORDS = {
    0: "natural",
    1: "sharp",
    2: "double sharp",
    3: "triple sharp",
    4: "fourfold sharp",
    5: "fivefold sharp",
    6: "sixfold sharp",
    -1: "flat",
    -2: "double flat",
    -3: "triple flat",
    -4: "fourfold flat",
    -5: "fivefold flat",
    -6: "sixfold flat",
}
SHARPWARD = "EABFCGD"
"""The order in which players raise letters from the E-flat tuning."""
ORDINALS = ("0th", "1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th", "9th", "10th")
LEGEND = "Cues: the new note (low from C3, middle C4, high C5); L.H. unless R.H."
"""What ``legend`` says of cues in the usual octaves."""
_USUAL = frozenset({3, 4, 5})
OPEN_LEGEND = "? = left open: no string, lever or free hand gives this note in time."
LINE_LENGTH = 72
"""Most characters in a line of words above or below the music (house judgement)."""
SHORT_LINE = 32
"""The same where the words may begin late in a line of music (house judgement)."""
_LINES = ("Level: ", "Set levers for ", "Also set: ")
_SIGNS = "|".join(sorted(SIGN_WORDS.values(), key=len, reverse=True))
_NOTE = re.compile(rf"(?P<octaves>.+) (?P<letter>[A-G]) (?P<sign>{_SIGNS})")
_SIGNED = re.compile(r"(?P<octave>.+) (?P<letter>[A-G])(?P<sign>♯{1,6}|♭{1,6}|♮)")
_EVERY = re.compile(rf"every (?P<letter>[A-G]) (?P<sign>{_SIGNS})(?: except (?P<but>.+))?")
_OCTAVE = re.compile(r"(\d+)(?:st|nd|rd|th)-octave")
_KEY = re.compile(r"(?P<letter>[A-Ga-g])(?P<sign>[#b]?) (?P<mode>major|minor)")
_SETTING = re.compile(r"Set levers for [^(]*\((?P<up>[^)]*)\)\.(?: Also set: (?P<also>[^.]*)\.)?")


def legend(said: str, *, has_cues: bool) -> str:
    """The line that explains cues and octave words; empty where there is nothing to explain.

    Args:
        said: what setting and cues say.
        has_cues: whether there are cues.
    """
    used = [word for word in OCTAVE_WORDS.values() if re.search(rf"(?<!very ){word}\b", said)]
    if not has_cues and not used:
        return ""
    known = [f"{w} C{o}" for o, w in OCTAVE_WORDS.items() if o in _USUAL or w in used]
    octaves = ", ".join(known).replace(" C", " from C", 1)
    if not has_cues:
        return f"Octaves: {octaves}."
    cues = f"Cues: the new note ({octaves}); L.H. unless R.H."
    is_long = len(cues) > LINE_LENGTH
    return f"Cues: the new note; L.H. unless R.H.\nOctaves: {octaves}." if is_long else cues


def wrapped(text: str, length: int = LINE_LENGTH) -> str:
    """The text in lines that fit a page beside the music."""
    return fill(text, length, break_on_hyphens=False)


def opening_in_lines(text: str) -> str:
    """The words at the top in lines; level and tuning, key, and other strings begin their own."""
    for words in _LINES:
        text = text.replace(f" {words}", f"\n{words}", 1)
    return "\n".join(wrapped(line) for line in text.split("\n"))


def harp_octave(letter: str, octave: int) -> int:
    """The octave that harp strings are sold by: from the top, each from E down to F.

    Source: published string charts (common practice of the string trade).
    """
    return (8 if letter in "CDE" else 7) - octave


def note_in_words(pitch: Pitch) -> str:
    """``middle C sharp``; outside the five octave words, ``6th-octave A flat``."""
    return f"{_octave_in_words(pitch.step, pitch.octave)} {class_in_words(pitch)}"


def note_in_signs(pitch: Pitch) -> str:
    """``middle C♯``: the same, short enough for a cue; a natural has its sign too."""
    sign = "♯" * pitch.alter if pitch.alter > 0 else "♭" * -pitch.alter or "♮"
    return f"{_octave_in_words(pitch.step, pitch.octave)} {pitch.step}{sign}"


def _octave_in_words(letter: str, octave: int) -> str:
    return OCTAVE_WORDS.get(octave) or f"{ORDINALS[harp_octave(letter, octave)]}-octave"


def _read_octave(letter: str, words: str) -> int | None:
    numbered = _OCTAVE.fullmatch(words)
    if numbered is not None:
        return harp_octave(letter, int(numbered[1]))
    return next((octave for octave, word in OCTAVE_WORDS.items() if word == words), None)


def class_in_words(pitch: Pitch) -> str:
    """``C sharp``, ``B natural``."""
    return f"{pitch.step} {SIGN_WORDS[pitch.alter]}"


def question(pitches: Iterable[Pitch]) -> str:
    """``? F♯5``: the mark at notes that are left open."""
    return f"? {pitches_in_signs(pitches)}"


def pitches_in_signs(pitches: Iterable[Pitch]) -> str:
    """``F♯5, B♭5``: pitches beside a mark, where it could speak of others."""
    return ", ".join(str(p).replace("b", "♭").replace("#", "♯") for p in pitches)


def key_in_words(key: str) -> str:
    """``A flat major`` for ``Ab major``, ``D minor`` for ``d minor``; other names as they are."""
    match = _KEY.fullmatch(key)
    if match is None:
        return key
    sign = {"#": " sharp", "b": " flat"}.get(match["sign"], "")
    return f"{match['letter'].upper()}{sign} {match['mode']}"


def read_note(words: str) -> Pitch | None:
    """Read what ``note_in_words`` or ``note_in_signs`` wrote; None where it is neither."""
    signed = _SIGNED.fullmatch(words.strip())
    if signed is not None:
        octave = _read_octave(signed["letter"], signed["octave"])
        alter = signed["sign"].count("♯") - signed["sign"].count("♭")
        return None if octave is None else Pitch(signed["letter"], alter, octave)
    pitches = _read_notes(words.strip())
    return pitches[0] if len(pitches) == 1 else None


def _read_notes(words: str) -> list[Pitch]:
    """``low and middle C sharp``: the notes that it names; none where it is something else."""
    match = _NOTE.fullmatch(words)
    if match is None:
        return []
    letter, alter = match["letter"], _alter(match["sign"])
    octaves = [_read_octave(letter, o) for o in re.split(r", | and ", match["octaves"])]
    return [Pitch(letter, alter, o) for o in octaves if o is not None]


def _alter(sign: str) -> int:
    return next(alter for alter, word in SIGN_WORDS.items() if word == sign)


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
    text = f"Tuning: {harp.tuning}. Set levers for {key_in_words(key)} "
    text += f"({', '.join(up)} up)." if up else "(all levers down)."
    usual = {
        s.name: Position.UP if s.letter in up else Position.DOWN
        for s in harp.strings
        if s.name in initial
    }
    apart = _apart(harp, usual, initial)
    return text + (f" Also set: {'; '.join(apart)}." if apart else "")


def state_in_words(
    harp: Harp, initial: Mapping[str, Position], now: Mapping[str, Position]
) -> str:
    """Say how the levers stand in mid-piece, by what differs from the start.

    Args:
        harp: the harp.
        initial: how the levers stood before the first note, by string name.
        now: how they stand here.
    """
    apart = _apart(harp, initial, now)
    return "as at the start" + (f" but {'; '.join(apart)}" if apart else "")


def _letters_up(harp: Harp, wanted: tuple[Position | None, ...]) -> list[str]:
    raised = {
        string.letter
        for string, position in zip(harp.strings, wanted, strict=True)
        if position is Position.UP
    }
    return [letter for letter in SHARPWARD if letter in raised]


def _apart(harp: Harp, usual: Mapping[str, Position], now: Mapping[str, Position]) -> list[str]:
    """What differs from the usual, letter by letter and sign by sign."""
    return [
        text
        for letter in LETTERS
        for text in _letter_apart(
            [s for s in harp.strings if s.letter == letter and s.name in now], usual, now
        )
    ]


def _letter_apart(
    strings: list[HarpString], usual: Mapping[str, Position], now: Mapping[str, Position]
) -> Iterator[str]:
    """``every C sharp``, ``every C sharp except high``, ``low, middle and high C sharp``."""
    pitches = {s.name: s.open if now[s.name] is Position.DOWN else s.raised for s in strings}
    different = [p for name, p in pitches.items() if p and now[name] is not usual[name]]
    for alter in dict.fromkeys(p.alter for p in different):
        group = [p for p in different if p.alter == alter]
        rest = [p for p in pitches.values() if p and p.alter != alter]
        named = class_in_words(group[0])
        if len(group) > 1 and not rest:
            yield f"every {named}"
        elif len(group) > 2 and len(rest) == 1:
            yield f"every {named} except {_octave_in_words(rest[0].step, rest[0].octave)}"
        else:
            octaves = [_octave_in_words(p.step, p.octave) for p in group]
            yield f"{listed(octaves)} {named}"


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
    for words in match["also"].split("; ") if match["also"] else ():
        standing |= dict(_said(words, harp))
    return standing


def _said(words: str, harp: Harp) -> Iterator[tuple[str, Position]]:
    every = _EVERY.fullmatch(words)
    if every is None:
        pitches = _read_notes(words)
    else:
        letter, alter = every["letter"], _alter(every["sign"])
        but = _read_octave(letter, every["but"]) if every["but"] else None
        octaves = [s.octave for s in harp.strings if s.letter == letter and s.raised is not None]
        pitches = [Pitch(letter, alter, octave) for octave in octaves if octave != but]
    for pitch in pitches:
        home = harp.home_as_spelled(pitch)
        if home is not None:
            yield harp.strings[home.string].name, home.position
