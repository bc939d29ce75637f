"""What a comparison finds: differences in classes, transpositions, and the verdict."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from arrange.pitch import Interval
from arrange.score.model import EventId
from arrange.units import Quarters


class Aspect(StrEnum):
    """The class of a difference, in the order in which people read them."""

    STRUCTURE = "structure"
    NOTES = "notes"
    RHYTHM = "rhythm"
    MARKS = "marks"
    LAYOUT = "layout"
    HEAD = "head"


MUSIC = frozenset({Aspect.STRUCTURE, Aspect.NOTES, Aspect.RHYTHM, Aspect.MARKS})
"""What a player would notice."""

ABOUT = {
    Aspect.STRUCTURE: "Measures, repeats, endings, jumps, keys, meters, clefs, tempo",
    Aspect.NOTES: "Notes added, left out, moved, respelled",
    Aspect.RHYTHM: "Places, lengths, rests, ties, voices and staves",
    Aspect.MARKS: "Words, dynamics, articulations, fingering, lyrics, chord symbols, pedals",
    Aspect.LAYOUT: "Stems, beams, accidentals shown, breaks, places on the page, fonts",
    Aspect.HEAD: "Titles, names, rights, the list of parts",
}


class Kind(StrEnum):
    """What became of it."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"
    OCTAVE = "octave"
    RESPELLED = "respelled"
    MOVED = "moved"
    INSERTED = "inserted"
    REPEATED = "repeated"
    RENUMBERED = "renumbered"


@dataclass(frozen=True, slots=True)
class MeasurePlace:
    """A measure: *index* in its part from 0, *number* as printed."""

    index: int
    number: str


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference.

    Attributes:
        part: the part's id after, or before where it is gone; "" where it is about the whole
            score.
        place_before, place_after: the measure; None where the side has none.
        offset: quarters from the measure's start; None where it is about the whole measure;
            *beat*: the same as the time signature counts it.
        staff: 0 where it is about all staves.
        before, after: the thing itself on either side, in words; "" where it is not there.
        sentence: what happened, for a musician.
        notes_before, notes_after: ids of the notes that it is about.
        also: further parts in which the same happened.
    """

    aspect: Aspect
    kind: Kind
    sentence: str
    part: str = ""
    place_before: MeasurePlace | None = None
    place_after: MeasurePlace | None = None
    offset: Quarters | None = None
    beat: str = ""
    staff: int = 0
    voice: str = ""
    before: str = ""
    after: str = ""
    notes_before: tuple[EventId, ...] = ()
    notes_after: tuple[EventId, ...] = ()
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Transposition:
    """Parts that sound another interval as a whole.

    Attributes:
        parts: their ids after.
        explained: how many notes it accounts for, of *notes* that stand in measures of both.
    """

    interval: Interval
    parts: tuple[str, ...]
    explained: int
    notes: int
    sentence: str


@dataclass(frozen=True, slots=True)
class PartPair:
    """A part and its counterpart; "" where there is none."""

    before: str
    after: str
    name: str


@dataclass(frozen=True, slots=True)
class File:
    """One of the two files: its name, and the hash of its bytes."""

    name: str
    sha256: str


class Verdict(StrEnum):
    """How equal the two are, from the most to the least.

    Attributes:
        IDENTICAL: the same bytes.
        SAME: the same music, marks, page and titles; only spelled differently in the file.
        LAYOUT: the same music; only its place and look on the page differ.
        HEAD: the same music; titles, names or the list of parts differ, perhaps layout too.
        TRANSPOSED: the same music in another key, whatever layout and titles do.
        DIFFERENT: the music differs.
    """

    IDENTICAL = "identical"
    SAME = "same"
    LAYOUT = "layout"
    HEAD = "head"
    TRANSPOSED = "transposed"
    DIFFERENT = "different"


_SENTENCES = {
    Verdict.IDENTICAL: "The two files are identical, byte for byte.",
    Verdict.SAME: "The two scores are equal; only the way in which the files spell them differs.",
    Verdict.LAYOUT: "Musically equal; only the layout differs.",
    Verdict.HEAD: "Musically equal; titles, names or the list of parts differ.",
    Verdict.TRANSPOSED: "The same music in another key.",
    Verdict.DIFFERENT: "The music differs.",
}


@dataclass(frozen=True)
class Comparison:
    """All that differs between two scores.

    Attributes:
        differences: in the order of the music; those of the whole score come first.
        measures: pairs of measures by index, in order; None where the other side has no
            counterpart.
    """

    before: File
    after: File
    parts: tuple[PartPair, ...] = ()
    transpositions: tuple[Transposition, ...] = ()
    differences: tuple[Difference, ...] = ()
    measures: tuple[tuple[int | None, int | None], ...] = ()

    @property
    def is_identical(self) -> bool:
        """The same bytes."""
        return self.before.sha256 == self.after.sha256

    @property
    def is_equal_music(self) -> bool:
        """A player would notice nothing; a transposition is noticed."""
        return not self.transpositions and not self.counts.keys() & MUSIC

    @cached_property
    def counts(self) -> dict[Aspect, int]:
        """How many differences of each class there are, those classes that have some."""
        counted = Counter(d.aspect for d in self.differences)
        return {aspect: counted[aspect] for aspect in Aspect if counted[aspect]}

    @property
    def verdict(self) -> Verdict:
        """How equal they are."""
        if self.is_identical:
            return Verdict.IDENTICAL
        if self.counts.keys() & MUSIC:
            return Verdict.DIFFERENT
        if self.transpositions:
            return Verdict.TRANSPOSED
        if Aspect.HEAD in self.counts:
            return Verdict.HEAD
        return Verdict.LAYOUT if self.counts else Verdict.SAME

    @property
    def summary(self) -> str:
        """The verdict as a sentence."""
        return _SENTENCES[self.verdict]

    def of(self, aspect: Aspect) -> Sequence[Difference]:
        """The differences of one class, in order."""
        return [d for d in self.differences if d.aspect is aspect]

    @cached_property
    def names(self) -> dict[str, str]:
        """What people call a part, by its id on either side."""
        named = {pair.before: pair.name or pair.before for pair in self.parts if pair.before}
        named.update((p.after, p.name or p.after) for p in self.parts if p.after)
        return named
