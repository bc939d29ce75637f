"""What words beside the notes are, pedal marks above all, and what the pedals stand at.

A row of letters can be a pedal mark, a rehearsal mark or a chord symbol. They are told apart by
where the words stand, how many names they hold and what stands near or follows:

* a row of all seven names, or of one foot's, is a pedal mark wherever it stands in the harp's
  part; so are three names with signs, names written out (``Fa dièse``), and names after a word
  such as ``préparez``;
* one or two names (``F#``) are a pedal mark between or below the staves, where nobody prints a
  chord symbol; elsewhere only beside other pedal marks, or, where the source does not say on
  which side they stand, with the note following them; never in a part with chord symbols;
* single names, each in words of its own, are a pedal mark where those of one measure make a
  row of seven, or a foot's row between or below the staves;
* else a single letter without a sign is never one; on a rehearsal mark, neither is one name.

What stays in doubt stays words, and the log says so.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

from arrange.score.model import Mark, MarkKind, PedalSetting
from arrange.score.reading.pedal_words import (
    ALL_PEDALS,
    GLISSANDO,
    LEFT_FOOT,
    PEDAL_ORDER,
    RIGHT_FOOT,
    PedalWords,
    pedals_in,
    read_pedal_words,
    single_name,
    without_accents,
    word_set,
)
from arrange.units import Quarters

__all__ = [
    "PedalState",
    "WordsPlace",
    "WordsReading",
    "classify_words",
    "doubt_about",
    "judge_words",
    "pedals_in",
]

_WORD = re.compile(r"[^\W\d_]+|\d+")
_PEDAL_SIGNS = frozenset("*\u2731\u2217\U0001d1ae\U0001d1af\ue650\ue655\ue656")
"""The star and the music font's signs for the pedal down and up."""
_PIANO_CORE = word_set(
    "ped pedal pedale pedales pedals corda corde sustain damper una-corda tre-corde"
)
_PIANO_ABOUT = word_set(
    "una due tre uno 1 2 3 con col colla senza sempre ad lib libitum simile sim mit ohne avec "
    "sans with without no soft half full damper the il la le press release hold up down mezzo "
    "sost sostenuto sustain sustained use off on to every measure bar jeder takt links"
)
_PIANO_WHOLE = frozenset({"u c", "t c", "mit verschiebung", "ohne verschiebung"})
_DAMP_CORE = re.compile(
    r"etouf\w*|damp|damped|damping|muffled?|(?:ab|ge)?dampf(?:en|t)|soffoc\w*|apagad?[ors]*"
)
_DAMP_WHOLE = frozenset({"secco", "sec", "et"})
_DAMP_ALL = word_set("tout toutes tous all alle alles tutto tutti tutte todo todas")
_SCALE = word_set("scale gamme scala skala tonleiter leiter escala")
_NOT = word_set("sans non ne not no nicht senza without never jamais dont don sin")


@dataclass(frozen=True, slots=True)
class WordsPlace:
    """Where words stand, and what stands near them.

    Attributes:
        is_harp: in a part that the harp plays, or that will be rewritten for it.
        staff: counted from the top, *staves* in the part.
        side: ``above``, ``below`` or "" where the source does not say.
        has_chord_symbols: the part carries chord symbols.
        neighbours: the other words of the measure.
        follows: letter and alteration of the notes that follow, up to the next measure's end.
    """

    is_harp: bool = True
    staff: int = 1
    staves: int = 2
    side: str = ""
    has_chord_symbols: bool = False
    neighbours: tuple[str, ...] = ()
    follows: tuple[tuple[str, int], ...] = ()

    @property
    def is_for_feet(self) -> bool:
        """Between the staves or below them, where pedal marks stand (common practice)."""
        if self.staff == 1 and self.staves > 1:
            return self.side == "below"
        return self.staff > 1 or self.side == "below"


@dataclass(frozen=True, slots=True)
class WordsReading:
    """What words are; *pedals* that they name; *doubt*: a sentence for the log, or ""."""

    kind: MarkKind
    pedals: tuple[tuple[str, int], ...] = ()
    doubt: str = ""


def classify_words(
    text: str, *, is_rehearsal: bool, is_boxed: bool, place: WordsPlace
) -> MarkKind:
    """Return what the words *text* are; ``WORDS`` where that is in doubt."""
    return judge_words(text, is_rehearsal=is_rehearsal, is_boxed=is_boxed, place=place).kind


def doubt_about(text: str, *, is_rehearsal: bool, is_boxed: bool, place: WordsPlace) -> str:
    """Return the sentence for the log where ``classify_words`` was in doubt, else ""."""
    return judge_words(text, is_rehearsal=is_rehearsal, is_boxed=is_boxed, place=place).doubt


def judge_words(
    text: str, *, is_rehearsal: bool, is_boxed: bool, place: WordsPlace
) -> WordsReading:
    """Return what the words *text* are, with the pedals that they name and any doubt.

    Args:
        text: the words, with their line breaks.
        is_rehearsal: the source calls them a rehearsal mark.
        is_boxed: they have a frame.
        place: where they stand.
    """
    words = _WORD.findall(without_accents(text).casefold())
    if _is_glissando(words):
        return WordsReading(MarkKind.GLISSANDO_WORDS, pedals_in(text) or ())
    named = read_pedal_words(text)
    single = single_name(text)
    if single is not None and not is_rehearsal and _is_of_a_row(single, place):
        return WordsReading(MarkKind.PEDAL_WORDS, (single,))
    if named is not None:
        return _judge_names(text, named, place, is_rehearsal=is_rehearsal)
    if is_rehearsal:
        return WordsReading(MarkKind.REHEARSAL)
    for judge in (_judge_scale, _judge_damping, _judge_piano):
        reading = judge(text, words)
        if reading is not None:
            return reading
    return WordsReading(MarkKind.WORDS, doubt=_letter_doubt(text, place, is_boxed=is_boxed))


def _judge_scale(text: str, words: list[str]) -> WordsReading | None:
    """All seven pedals in their order in a line, and in the other which scale that is."""
    if _SCALE.isdisjoint(words):
        return None
    lines = [pedals_in(line) for line in text.splitlines() if line.strip()]
    rows = [pedals for pedals in lines if pedals is not None]
    if len(lines) == 2 and [[letter for letter, _ in row] for row in rows] == [[*PEDAL_ORDER]]:
        return WordsReading(MarkKind.PEDAL_WORDS, rows[0])
    return None


def _is_glissando(words: list[str]) -> bool:
    """Gliss. in any spelling; not "no gliss.", nor the pedal's slide on one string."""
    if any(word in _NOT or word in _PIANO_CORE for word in words):
        return False
    return any(GLISSANDO.fullmatch(word) for word in words)


def _judge_names(
    text: str, named: PedalWords, place: WordsPlace, *, is_rehearsal: bool
) -> WordsReading:
    pedal_words = WordsReading(MarkKind.PEDAL_WORDS, named.pedals)
    if named.letters == ALL_PEDALS:
        return pedal_words
    if not place.is_harp:
        return WordsReading(MarkKind.WORDS)
    if named.has_prefix or named.letters in (LEFT_FOOT, RIGHT_FOOT) or named.signed >= 3:
        return pedal_words
    if is_rehearsal and named.is_plain and len(named.pedals) == 1 and not place.is_for_feet:
        return WordsReading(MarkKind.REHEARSAL, doubt=_DOUBT.format(text=text.strip()))
    if not named.is_plain or _is_beside_the_feet(named, place):
        return pedal_words
    return WordsReading(MarkKind.WORDS, doubt=_DOUBT.format(text=text.strip()))


def _is_of_a_row(single: tuple[str, int], place: WordsPlace) -> bool:
    """Whether the single names of the measure, each in its own words, make a row together."""
    if not place.is_harp or place.has_chord_symbols:
        return False
    found = [name for other in place.neighbours if (name := single_name(other)) is not None]
    letters = [single[0], *(letter for letter, _ in found)]
    row = frozenset(letters)
    if len(row) != len(letters):
        return False
    return row == ALL_PEDALS or (place.is_for_feet and row in (LEFT_FOOT, RIGHT_FOOT))


_DOUBT = (
    "'{text}' may be a pedal mark, a chord symbol or a rehearsal mark; it was left as it stands."
)


def _is_beside_the_feet(named: PedalWords, place: WordsPlace) -> bool:
    """One or two names with signs: by the place, by the marks beside, by what follows."""
    if place.is_for_feet:
        return True
    if place.has_chord_symbols:
        return False
    beside = [read_pedal_words(other) for other in place.neighbours]
    if any(o is not None and (o.has_prefix or len(o.pedals) > 2) for o in beside):
        return True
    return not place.side and set(named.pedals) <= set(place.follows)


def _judge_damping(text: str, words: list[str]) -> WordsReading | None:
    if " ".join(words) in _DAMP_WHOLE:
        return WordsReading(MarkKind.DAMP)
    if not any(_DAMP_CORE.fullmatch(word) for word in words):
        return None
    if _NOT.intersection(words):
        doubt = f"'{text.strip()}' speaks of damping but asks for none; it was left as words."
        return WordsReading(MarkKind.WORDS, doubt=doubt)
    return WordsReading(MarkKind.DAMP_ALL if _DAMP_ALL.intersection(words) else MarkKind.DAMP)


def _judge_piano(text: str, words: list[str]) -> WordsReading | None:
    bare = text.replace(" ", "").replace(".", "")
    if bare and set(bare) <= _PEDAL_SIGNS:
        return WordsReading(MarkKind.PIANO_WORDS)
    if " ".join(words) in _PIANO_WHOLE:
        return WordsReading(MarkKind.PIANO_WORDS)
    if not _PIANO_CORE.intersection(words):
        return None
    if all(word in _PIANO_CORE or word in _PIANO_ABOUT for word in words):
        return WordsReading(MarkKind.PIANO_WORDS)
    doubt = f"'{text.strip()}' speaks of a pedal among other things; it was left as it stands."
    return WordsReading(MarkKind.WORDS, doubt=doubt)


def _letter_doubt(text: str, place: WordsPlace, *, is_boxed: bool) -> str:
    """A lone letter where pedal marks stand could be a natural."""
    letter = text.strip()
    is_letter = len(letter) == 1 and letter in ALL_PEDALS
    if is_letter and place.is_harp and place.is_for_feet and not is_boxed:
        return _DOUBT.format(text=letter)
    return ""


@dataclass(frozen=True, slots=True)
class PedalState:
    """What the pedal marks of one harp have set so far, by printed place.

    Attributes:
        places: measure index and offset of each mark, in score order.
        settings: letter to alteration after the mark of the same number; marks at one place
            merge, and what a mark does not name stays as it was.
    """

    places: tuple[tuple[int, Quarters], ...]
    settings: tuple[PedalSetting, ...]

    @classmethod
    def of_marks(cls, marks: Iterable[Mark]) -> "PedalState":
        """Follow the pedal marks among *marks*, in any order, of one harp."""
        kinds = (MarkKind.HARP_PEDALS, MarkKind.PEDAL_WORDS)
        found = [mark for mark in marks if mark.kind in kinds and mark.pedals]
        found.sort(key=lambda mark: (mark.id.index, mark.offset))
        settings: list[PedalSetting] = []
        for mark in found:
            settings.append({**(settings[-1] if settings else {}), **dict(mark.pedals)})
        return cls(tuple((mark.id.index, mark.offset) for mark in found), tuple(settings))

    def setting_at(self, index: int, offset: Quarters) -> PedalSetting:
        """Return what stands at a place, marks at the place itself included."""
        at = bisect_right(self.places, (index, offset))
        return dict(self.settings[at - 1]) if at else {}
