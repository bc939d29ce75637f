"""The measures in the order in which they are played."""

from dataclasses import dataclass, field

from arrange.score.reading.structure import Outline

LONGEST = 64
"""A score that plays each measure more often than this on average is going round in circles
(house judgement)."""

EARLY = 2
"""Words of a leap may stand so many measures before the repeat that they wait for (house
judgement)."""


@dataclass(frozen=True, slots=True)
class Performance:
    """Measure indices in playing order, and what was odd: (index, sentence)."""

    performed: tuple[int, ...]
    oddities: tuple[tuple[int, str], ...]


@dataclass(slots=True)
class _Section:
    """A repeated section: where it starts, which pass this is, its endings' group.

    A backward sign goes back to the last forward sign, or to where the last repeat ended, or
    to the beginning (common practice: repeats are not nested).
    """

    start: int
    is_marked: bool = False
    round: int = 1
    group: int = -1


@dataclass(slots=True)
class _Player:
    """Walks through the score the way a player does."""

    outline: Outline
    played: list[int] = field(default_factory=list)
    oddities: list[tuple[int, str]] = field(default_factory=list)
    section: _Section = field(default_factory=lambda: _Section(0))
    leapt: set[int] = field(default_factory=set)
    old_until: int = -1
    is_after_leap: bool = False
    asked_end: tuple[str, ...] = ()

    def walk(self) -> None:
        """Play until the end, a Fine, or the limit."""
        count = len(self.outline.signs)
        index = 0
        while index < count:
            if len(self.played) > LONGEST * count:
                self._odd(index, "The repeats never end; play stops here.")
                return
            index = self._enter(index)
            if index >= count:
                return
            self.played.append(index)
            index = self._leave(index)

    def _enter(self, index: int) -> int:
        """The measure that is really played where *index* would come next."""
        count = len(self.outline.signs)
        while index < count:
            self._open(index)
            group = self.outline.groups[index]
            if group < 0 or self._is_due(index, group):
                return index
            index += 1
        return index

    def _open(self, index: int) -> None:
        """End a section whose endings are behind; begin the one that starts here."""
        group = self.section.group
        if group >= 0 and index > self.outline.endings[group].last:
            self.section = _Section(index)
        if not self.outline.signs[index].forward:
            return
        if self.section.start == index:
            self.section.is_marked = True
            return
        if self.section.is_marked and self.section.group < 0 and index > self.old_until:
            self._odd(self.section.start, "A repeat opens here but is never closed.")
        self.section = _Section(index, is_marked=True)

    def _is_due(self, index: int, group: int) -> bool:
        """Whether this ending belongs to the pass that is under way."""
        numbers = self.outline.structures[index].endings
        passes = self.outline.endings[group].passes
        self.section.group = group
        if index <= self.old_until:
            return passes in numbers
        return self.section.round in numbers

    def _leave(self, index: int) -> int:
        """Where play goes on after the measure *index*."""
        sign = self.outline.signs[index]
        if sign.fine and self._ends_with("fine"):
            return len(self.outline.signs)
        if sign.to_coda and self._ends_with("coda"):
            return self._to_coda(index)
        if index > self.old_until and (sign.backward or self._lacks_repeat(index)):
            if self.section.round < self._passes(index):
                self.section.round += 1
                return self.section.start
            if self.outline.groups[index] < 0:
                self.section = _Section(index + 1)
        if sign.jump and index not in self.leapt and not self._is_repeated_ahead(index):
            return self._leap(index)
        return index + 1

    def _is_repeated_ahead(self, index: int) -> bool:
        """Whether a repeat that closes just behind a leap is still to be taken."""
        for i in range(index + 1, min(index + 1 + EARLY, len(self.outline.signs))):
            if self.outline.signs[i].forward:
                return False
            if self.outline.signs[i].backward:
                return i > self.old_until and self.section.round < self._passes(i)
        return False

    def _ends_with(self, end: str) -> bool:
        """Whether a leap was taken that asks for this end, or for none by name."""
        return self.is_after_leap and (not self.asked_end or end in self.asked_end)

    def _lacks_repeat(self, index: int) -> bool:
        """Whether an ending stops here with no repeat sign, though another follows it."""
        group = self.outline.groups[index]
        if group < 0 or self.outline.endings[group].last == index:
            return False
        here = self.outline.structures[index].endings
        if here == self.outline.structures[index + 1].endings:
            return False
        self._odd(index, "An ending with no repeat sign, though another follows; it is repeated.")
        return True

    def _odd(self, index: int, text: str) -> None:
        if (index, text) not in self.oddities:
            self.oddities.append((index, text))

    def _passes(self, index: int) -> int:
        group = self.outline.groups[index]
        structure = self.outline.structures[index]
        if group < 0:
            return structure.times
        explicit = self.outline.signs[index].times
        return max(self.outline.endings[group].passes, explicit)

    def _leap(self, index: int) -> int:
        """Take a D.C. or D.S.; each is taken once."""
        self.leapt.add(index)
        sign = self.outline.signs[index]
        target = 0
        if sign.jump == "D.S.":
            named = [i for i, s in enumerate(self.outline.signs) if sign.jump_to in s.segno]
            above = [i for i, s in enumerate(self.outline.signs) if s.segno and i <= index]
            if not named and not above:
                self._odd(index, "A D.S. with no sign to go back to; play goes on without it.")
                return index + 1
            target = named[-1] if sign.jump_to and named else above[-1]
        self._check_words(index)
        self.is_after_leap = True
        self.asked_end = sign.al
        self.old_until = max(self.old_until, index)
        self.section = _Section(target)
        return target

    def _check_words(self, index: int) -> None:
        signs = self.outline.signs
        al = signs[index].al
        if "fine" in al and not any(s.fine for s in signs):
            self._odd(index, "Words ask to play to the Fine, but no Fine is found.")
        if "coda" in al and not any(s.to_coda for s in signs):
            self._odd(index, "Words ask to go to the Coda, but no place to leave for it is found.")

    def _to_coda(self, index: int) -> int:
        name = self.outline.signs[index].to_coda
        codas = [i for i, s in enumerate(self.outline.signs) if s.coda]
        named = [i for i in codas if name in self.outline.signs[i].coda]
        ahead = [i for i in named or codas if i > index]
        if not ahead:
            self._odd(index, "The Coda is not found; play goes on without the leap.")
            return index + 1
        beyond = [i for i in ahead if i > self.old_until]
        target = (beyond or ahead)[0]
        self.is_after_leap = False
        self.section = _Section(target)
        return target


def performance(outline: Outline) -> Performance:
    """Return the order of play.

    Repeats are taken as often as they say, endings with their pass. After a D.C. or D.S.
    repeats are not taken again and the last ending is played; music that is new then, such as
    a coda, has its repeats.
    """
    player = _Player(outline)
    player.walk()
    return Performance(tuple(player.played), tuple(player.oddities))
