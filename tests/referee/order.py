"""Measures in playing order: repeats, endings, da capo, dal segno, fine, coda."""

from collections.abc import Sequence

from referee.faults import Fault
from referee.summary import Summary
from referee.turns import Turn

LONGEST = 60
"""Passes after which a score that never ends is given up."""


class Walk:
    """One walk through a score."""

    def __init__(self, turns: Sequence[Turn]) -> None:
        self.turns = turns
        self.here = self.start = 0
        self.turn = 1
        self.jumped = False
        self.until: set[str] = set()
        self.order: list[int] = []

    def run(self) -> list[int]:
        """The indices in playing order."""
        limit = LONGEST * (len(self.turns) + 1)
        while self.here < len(self.turns) and len(self.order) < limit:
            now = self.turns[self.here]
            if now.forward and self.here != self.start:
                self.start, self.turn = self.here, 1
            if now.ending and not self.is_taken(now):
                self.go_on()
                continue
            self.order.append(self.here)
            if not self.leave(now):
                break
        return self.order

    def group(self, index: int) -> list[int]:
        """The measures of the endings that belong together around *index*."""
        first = last = index
        while first > 0 and self.joins(first - 1):
            first -= 1
        while last + 1 < len(self.turns) and self.joins(last):
            last += 1
        return list(range(first, last + 1))

    def joins(self, index: int) -> bool:
        """Whether the measure after *index* still lies in the same set of endings."""
        one, two = self.turns[index].ending, self.turns[index + 1].ending
        if not one or not two:
            return False
        return one == two or min(two) > max(one)

    def most(self, index: int) -> int:
        """The last pass that the endings around *index* name."""
        if not self.turns[index].ending:
            return 0
        return max(max(self.turns[i].ending) for i in self.group(index))

    def is_taken(self, now: Turn) -> bool:
        """Whether this ending is played on this pass; after a jump only the last one is."""
        return (self.most(self.here) if self.jumped else self.turn) in now.ending

    def leave(self, now: Turn) -> bool:
        """Go to the next measure; False where the music ends."""
        if self.jumped:
            if now.fine and self.ends_with("fine"):
                return False
            leads = now.to_coda is not None and self.ends_with("coda")
            coda = self.found(now.to_coda or "", "codas") if leads else None
            if coda is not None:
                self.here, self.turn = coda, 1
                return True
        elif self.goes_back(now):
            self.turn += 1
            self.here = self.start
            return True
        elif self.jump(now):
            return True
        self.go_on()
        return True

    def goes_back(self, now: Turn) -> bool:
        """A repeat that is still to be taken; an ending before another one implies it."""
        following = self.turns[self.here + 1].ending if self.here + 1 < len(self.turns) else ()
        implied = bool(now.ending) and following != now.ending and bool(following)
        closes = now.times > 0 or (implied and self.joins(self.here))
        return closes and self.turn < max(now.times, self.most(self.here))

    def jump(self, now: Turn) -> bool:
        """Take a da capo or a dal segno."""
        target = 0 if now.da_capo else None
        if target is None and now.to_segno is not None:
            target = self.found(now.to_segno, "segni")
        if target is None:
            return False
        self.here, self.jumped, self.turn = target, True, 1
        self.until = now.until
        return True

    def ends_with(self, end: str) -> bool:
        """Whether the jump asks for this end, or for none by name."""
        return not self.until or end in self.until

    def found(self, label: str, kind: str) -> int | None:
        """The measure with the sign: the label first, else the nearest fitting one."""
        places = [i for i, turn in enumerate(self.turns) if getattr(turn, kind)]
        exact = [i for i in places if label in getattr(self.turns[i], kind)]
        if kind == "segni":
            before = [i for i in exact or places if i <= self.here]
            return before[-1] if before else None
        after = [i for i in exact or places if i > self.here]
        return after[0] if after else None

    def go_on(self) -> None:
        """Step on; past a closed section or a set of endings, a new section begins."""
        now = self.turns[self.here]
        last = self.here + 1 >= len(self.turns)
        if (now.ending and (last or not self.joins(self.here))) or (now.times and not now.ending):
            self.start, self.turn = self.here + 1, 1
        self.here += 1


def derived_order(turns: Sequence[Turn]) -> list[int]:
    """The measures of a score in playing order."""
    return Walk(turns).run()


def order_faults(turns: Sequence[Turn], summary: Summary) -> list[Fault]:
    """Whether ``performed`` is the playing order."""
    own = derived_order(turns)
    given = list(summary.performed)
    if own == given:
        return []
    at = next(
        (i for i, (a, b) in enumerate(zip(own, given, strict=False)) if a != b),
        min(len(own), len(given)),
    )
    sentence = (
        f"the playing order leaves the score's at step {at}: it says {given[at : at + 4]}, "
        f"the repeats and jumps say {own[at : at + 4]}"
    )
    return [Fault("order", f"step {at}", sentence)]
