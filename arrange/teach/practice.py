"""Ways to practise a place, worked out from its fingering: what to look at, place, hold, block."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from arrange.hands.fingering import Fingered, Joining
from arrange.phrasing import listed
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName
from arrange.score.plucks import Pluck
from arrange.study.difficulty import (
    ALTERED,
    BOTH,
    COMPASS,
    HURRY,
    MOVES,
    NOTES,
    PACE,
    RHYTHM,
    SPAN,
    TRAVEL,
    Reason,
    leaves_key,
)
from arrange.teach.gestures import Gesture
from arrange.teach.piece import Piece
from arrange.teach.placed import (
    anchor,
    by_colour,
    distance,
    finger_text,
    fingers_text,
    groups,
    held,
    is_block,
    notes_text,
    placing_text,
    strings_of,
)
from arrange.teach.setting import tempo_text
from arrange.teach.words import HANDS, beat_in, span_text, string_text, strings_text

HOW = {
    "Lever": "three rounds: without the lever; the hand and the lever alone, counting; then both. "
    "Eyes up to the lever before the hand leaves, back to the string before it lands.",
    "Place ahead": "squeeze without a sound, let go, take the hand away; five times, then pluck.",
    "Block": "pluck each placing as one chord and go on to the next; only then note by note.",
    "Hold on": "the finger named keeps its string until the others have theirs; without a sound "
    "first.",
    "Look first": "eyes on the string before the hand leaves; land without a sound, stop, check, "
    "then play.",
    "Tap": "on the table, a hand each, counting aloud; then on one string a hand.",
    "Touch": "find the strings by eye, say them aloud, see that each lever stands as it should.",
    "Find by colour": "from the lap, looking; then with the eyes on the page.",
    "Slowly": "long and short, short and long, then even; faster only after three clean rounds.",
}
"""How each way is done; the ways themselves say with what."""
SLOW = 5
"""A first tempo is so many tenths of the tempo (house judgement)."""
FEW = 3
"""Strings that a hand moves by before it needs the eyes (house judgement)."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way to practise: one of `HOW`, and with which strings, fingers, beats."""

    how: str
    text: str


@dataclass(frozen=True, slots=True)
class _Hand:
    """What one hand plays in a place, and what it played before that; which notes are *open*."""

    hand: HandName
    row: tuple[Fingered, ...]
    before: Fingered | None
    open: frozenset[EventId]

    @property
    def sure(self) -> tuple[Fingered, ...]:
        """Handfuls without a note that is left open."""
        return tuple(filter(self.is_sure, self.row))

    @property
    def steps(self) -> Iterator[tuple[Fingered, Fingered]]:
        """Handfuls with what they follow, where neither has a note that is left open."""
        row = self.row if self.before is None else (self.before, *self.row)
        return (pair for pair in pairwise(row) if all(map(self.is_sure, pair)))

    def is_sure(self, one: Fingered) -> bool:
        """Whether no note of it is left open."""
        return self.open.isdisjoint(note.id for note in one.handful.notes)


_Found = Callable[[Sequence[int], tuple[_Hand, ...]], str]


class Practice:
    """Finds ways to practise places of one piece."""

    def __init__(self, piece: Piece, gestures: Sequence[Gesture]) -> None:
        self._piece = piece
        self._gestures = gestures
        self._plucks: dict[int, list[Pluck]] = {}
        for pluck in piece.printed:
            self._plucks.setdefault(pluck.index, []).append(pluck)
        self._rows = {hand: list(piece.handfuls(hand)) for hand in HandName}
        self._found: dict[str, _Found] = {
            "Lever": self._lever,
            "Place ahead": self._shape,
            "Block": self._block,
            "Hold on": self._hold,
            "Look first": self._jump,
            "Tap": self._together,
            "Touch": self._altered,
            "Find by colour": self._landmark,
            "Slowly": self._slowly,
        }

    def ways(self, indices: Sequence[int], reasons: Sequence[Reason]) -> Iterator[Way]:
        """Yield ways that fit a place, those first that answer its reasons.

        Args:
            indices: its measures.
            reasons: what makes it hard, hardest first.
        """
        hands = tuple(self._hand(hand, indices) for hand in HandName)
        tried: dict[str, None] = {}
        for reason in reasons:
            tried |= dict.fromkeys(_ANSWERS.get(reason.demand, ()))
        for how in tried | dict.fromkeys(_ALWAYS):
            text = self._found[how](indices, hands)
            if text:
                yield Way(how, text)

    def _hand(self, hand: HandName, indices: Sequence[int]) -> _Hand:
        row = self._rows[hand]
        inside = [i for i, one in enumerate(row) if one.handful.index in indices]
        before = row[inside[0] - 1] if inside and inside[0] else None
        return _Hand(hand, tuple(row[i] for i in inside), before, self._piece.open)

    def _where(self, hand: HandName, one: Fingered) -> str:
        measures, index = self._piece.measures, one.handful.index
        beat = beat_in(measures, index, one.handful.offset)
        return f"{HANDS[hand]} {span_text(measures, (index,))} beat {beat}"

    def _lever(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """The tightest way to the levers."""
        del hands
        here = [g for g in self._gestures if any(m.index in indices for m in g.moves) and g.count]
        if not here:
            return ""
        gesture = min(here, key=lambda g: g.spare)
        told = [f"{beat} {done}" for beat, done in gesture.count if done not in ("ring", "wait")]
        return f"{gesture.hand} {gesture.where}: {', '.join(told)}"

    def _shape(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """The widest or fullest handful."""
        del indices
        full = [(one, h.hand) for h in hands for one in h.sure if len(one.lines) > 1]
        if not full:
            return ""
        one, hand = max(full, key=lambda f: (len(f[0].lines), f[0].lines[-1] - f[0].lines[0]))
        return f"{self._where(hand, one)}: {placing_text(one)}"

    def _block(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """The largest group that lies in one placing of the hand."""
        del indices
        found = [
            (group, h.hand)
            for h in hands
            for group in groups(h.row)
            if is_block(group) and all(map(h.is_sure, group))
        ]
        if not found:
            return ""
        group, hand = max(found, key=lambda g: (len(strings_of(g[0])), -g[0][0].handful.time))
        return f"{self._where(hand, group[0])}: {fingers_text(strings_of(group))} together"

    def _hold(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """What a finger keeps: in a crossing, or while the hand opens."""
        del indices
        crossings = (Joining.UNDER, Joining.OVER)
        for h in hands:
            for before, one in h.steps:
                where = self._where(h.hand, one)
                if one.joining in crossings:
                    note, finger = tuple(one)[-1]
                    kept, holder = anchor(before, one.joining)
                    way = "passes under to" if one.joining is Joining.UNDER else "comes over to"
                    told = f"{finger_text(finger)} {way} {string_text(note.pitch)}"
                    return f"{where}: {finger_text(holder)} on {string_text(kept)} until {told}"
                kept_one = held(before, one) if one.joining is Joining.HELD else None
                if kept_one is not None:
                    pitch, finger = kept_one
                    rest = [note.pitch for note, _ in one if note.pitch.line != pitch.line]
                    return (
                        f"{where}: {finger_text(finger)} on {string_text(pitch)} while the hand "
                        f"opens to {strings_text(rest)}"
                    )
        return ""

    def _jump(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """The widest way through the air."""
        del indices
        steps = [
            (before, one, h.hand)
            for h in hands
            for before, one in h.steps
            if one.joining in (Joining.JUMP, Joining.ANEW) and distance(before, one) > FEW
        ]
        if not steps:
            return ""
        before, one, hand = max(steps, key=lambda s: distance(s[0], s[1]))
        target = string_text(one.handful.notes[-1].pitch)
        return (
            f"{self._where(hand, one)}: from {notes_text(before)} to {notes_text(one)}, "
            f"eyes on {target}"
        )

    def _together(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """Which strokes fall together in the busiest measure."""
        best: tuple[int, str] = (0, "")
        for index in indices:
            rows = [{o.handful.offset for o in h.sure if o.handful.index == index} for h in hands]
            both, count = sorted(rows[0] & rows[1]), len(rows[0] | rows[1])
            if not rows[0] or not rows[1] or count <= best[0]:
                continue
            beats = listed([beat_in(self._piece.measures, index, o) for o in both[:6]])
            word = "beats" if len(both) > 1 else "beat"
            said = f"both hands on {word} {beats}" if both else "the hands never strike together"
            best = (count, f"{span_text(self._piece.measures, (index,))}: {said}")
        return best[1]

    def _altered(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """The strings that leave the key."""
        del hands
        found = dict.fromkeys(
            pluck.pitch
            for index in indices
            for pluck in self._plucks.get(index, ())
            if leaves_key(self._piece.score.measure(pluck.part, pluck.index), pluck)
            and pluck.note not in self._piece.open
        )
        return f"{strings_text(list(found)[:6])}, which leave the key" if found else ""

    def _landmark(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """An outer string, told from the nearest coloured one."""
        del indices
        notes = [(n.pitch, h.hand) for h in hands for one in h.sure for n in one.handful.notes]
        if not notes:
            return ""
        low, high = min(notes, key=lambda n: n[0].line), max(notes, key=lambda n: n[0].line)
        middle = Pitch("C", 0, 4).line
        is_low = middle - low[0].line >= high[0].line - middle
        pitch, hand = low if is_low else high
        return f"{HANDS[hand]} {string_text(pitch)}, {by_colour(pitch)}"

    def _slowly(self, indices: Sequence[int], hands: tuple[_Hand, ...]) -> str:
        """A first tempo."""
        del hands
        tempo = tempo_text(self._piece, indices[0], SLOW)
        return f"at first {tempo}" if tempo else "far below the tempo at first"


_ANSWERS = {
    MOVES: ("Lever",),
    HURRY: ("Lever",),
    NOTES: ("Place ahead",),
    SPAN: ("Place ahead",),
    PACE: ("Block", "Hold on"),
    TRAVEL: ("Look first", "Hold on"),
    BOTH: ("Tap",),
    RHYTHM: ("Tap",),
    ALTERED: ("Touch",),
    COMPASS: ("Find by colour",),
}
"""Ways by what is asked that they answer."""
_ALWAYS = ("Hold on", "Block", "Look first", "Slowly")
