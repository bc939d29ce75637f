"""Two note elements that should be one: what differs beside pitch and length."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from arrange.audit.ledger import Page
from arrange.audit.shapes import (
    FOLLOWING,
    LENGTH,
    LINES,
    VALUE,
    Shape,
    are_spelled_alike,
    note_rest,
    sign_shape,
    sign_shapes,
    signs,
)
from arrange.pitch import Interval
from arrange.score.model import Note, Rest, Sign
from arrange.score.nodes import Node, inside_of
from arrange.score.reading.notations import sign_nodes

_MARKS = frozenset({"accidental-mark"})
_KEPT_OFF_A_NOTE = frozenset({"default-x", "default-y", "relative-x", "relative-y"})


@dataclass(frozen=True)
class Pairing:
    """On what terms two measures are compared.

    Attributes:
        page: what the log claims about the measure.
        interval: of a part that is transposed; None elsewhere.
        is_loose: what follows from notes may differ.
        loses_lines: slurs and lines may have lost an end; they are judged for the whole part.
        is_first: the first measure of its part; *may_turn_clefs*: notes of the part moved.
        heirs: keys of notes to the elements that left their chord.
        sounding: the notes and rests of source and result by key.
    """

    page: Page
    interval: Interval | None
    is_loose: bool
    loses_lines: bool
    is_first: bool
    may_turn_clefs: bool
    heirs: Mapping[str, list[Node]] = field(default_factory=dict)
    sounding: tuple[Mapping[str, Note | Rest], Mapping[str, Note | Rest]] = ({}, {})

    def spared(self, key: str) -> frozenset[str]:
        """Which children of a note are not compared."""
        spared = FOLLOWING if self.is_loose else frozenset()
        if self.page.is_counted_finer:
            spared |= LENGTH
        return spared | VALUE if key in self.page.lengthened else spared

    def is_claimed(self, note: Node) -> bool:
        """Whether the log says that signs on the note changed."""
        page = self.page
        return note.key in page.signs or note.key in page.rolled or note.key in page.fingered

    def are_pitched(self, one: Node, two: Node) -> bool:
        """Whether both are notes with a pitch."""
        was, now = self.sounding[0].get(one.key), self.sounding[1].get(two.key)
        return isinstance(was, Note) and isinstance(now, Note)

    def is_elsewhere(self, one: Node, two: Node) -> bool:
        """Whether two notes sound different pitches, which is judged apart."""
        was, now = self.sounding[0].get(one.key), self.sounding[1].get(two.key)
        return isinstance(was, Note) and isinstance(now, Note) and was.pitch != now.pitch

    def adorns_alike(self, one: Node, two: Node) -> bool:
        """Whether the ornaments of a note that may have moved sound as far from it as before.

        Which accidentals at the ornaments say so then follows of itself.
        """
        was, now = self.sounding[0].get(one.key), self.sounding[1].get(two.key)
        if not self.is_loose or not (isinstance(was, Note) and isinstance(now, Note)):
            return False
        return _distances(was) == _distances(now)


def _distances(note: Note) -> list[int]:
    return sorted(extra.midi - note.pitch.midi for extra in note.auxiliaries)


def note_problem(one: Node, two: Node, pairing: Pairing) -> str:
    """What differs between two notes; empty where nothing does that has no entry."""
    if not _has_same_attributes(one, two, pairing):
        return "the attributes of a note differ, and no entry says so"
    if _are_alike(one, two, pairing):
        return ""
    spared = pairing.spared(one.key)
    if pairing.is_elsewhere(one, two):
        spared |= {"pitch"}
    rest, other = note_rest(one, spared), note_rest(two, spared)
    if rest != other:
        was, now = Counter(rest), Counter(other)
        inherited = Counter(
            part for left in pairing.heirs.get(one.key, ()) for part in note_rest(left, spared)
        )
        gone, new = was - now, now - was - inherited
        for part in (*gone, *new):
            kind = "is gone or another one" if part in gone else "is new"
            return f"<{part[0]}> of a note {kind}, and no entry says so"
    if _is_another_rest(one, two, pairing):
        return "a rest lasts longer or shorter or stands elsewhere, and no entry says so"
    if not pairing.is_claimed(one) and _has_same_signs(one, two, pairing):
        return ""
    return _sign_problem(one, two, pairing)


def _has_same_attributes(one: Node, two: Node, pairing: Pairing) -> bool:
    if pairing.is_loose and are_spelled_alike(one, two):
        return True
    was, now = one.attrs, two.attrs
    if was == now or not pairing.is_loose:
        return was == now
    spared = _KEPT_OFF_A_NOTE
    kept, left = ({k: v for k, v in row.items() if k not in spared} for row in (was, now))
    return kept == left


def _are_alike(one: Node, two: Node, pairing: Pairing) -> bool:
    """Whether nothing differs, as was found of two pitched notes spelled as these are.

    Only where the log says nothing of the notes that their neighbours do not say too.
    """
    was, now = inside_of(one), inside_of(two)
    key = one.key
    if was is None or now is None or not pairing.are_pitched(one, two):
        return False
    if key in pairing.page.lengthened or pairing.is_claimed(one):
        return False
    terms = (pairing.is_loose, pairing.page.is_counted_finer, pairing.loses_lines)
    is_elsewhere = pairing.is_elsewhere(one, two)
    place = (_are_alike, now.spelled, terms, pairing.interval is None, is_elsewhere)
    found: bool | None = was.known.get(place)
    if found is None:
        spared = pairing.spared(key) | {"pitch"} if is_elsewhere else pairing.spared(key)
        found = note_rest(one, spared) == note_rest(two, spared)
        found = found and _has_same_signs(one, two, pairing)
        was.known[place] = found
    return found


def _is_another_rest(one: Node, two: Node, pairing: Pairing) -> bool:
    was, now = pairing.sounding[0].get(one.key), pairing.sounding[1].get(two.key)
    if not isinstance(was, Rest) or now is None:
        return False
    return was.offset != now.offset or was.duration != now.duration


def _has_same_signs(one: Node, two: Node, pairing: Pairing) -> bool:
    """Whether nothing has to be counted: the same signs stand in the same order."""
    is_moving = pairing.interval is not None
    was, now = (
        sign_shapes(note, _spared_signs(note, pairing), is_moving=is_moving) for note in (one, two)
    )
    return was == now


def _sign_problem(one: Node, two: Node, pairing: Pairing) -> str:
    kinds = {
        node: node.tag if notation.sign is Sign.OTHER else notation.sign.value
        for notation, node in sign_nodes(one)
    }
    is_plain = not any(ornaments.children for ornaments in _ornaments(two))
    is_spared = pairing.adorns_alike(one, two) or (is_plain and pairing.is_claimed(one))
    spared = _MARKS if is_spared else frozenset()
    was = [(node, part) for node, part in _signs(one, pairing) if node.tag not in spared]
    now = Counter(part for node, part in _signs(two, pairing) if node.tag not in spared)
    named = {part: kinds.get(node, node.tag) for node, part in was}
    gone = Counter(part for _, part in was)
    gone, new = gone - now, now - gone
    taken = Counter(pairing.page.signs.get(one.key, ()))
    if pairing.loses_lines:
        taken = Counter({kind: n for kind, n in taken.items() if kind not in LINES})
    for part, count in gone.items():
        kind = named[part]
        if taken[kind] < count:
            return f"the sign {part[0]!r} is gone from a note, and no entry says so"
        taken[kind] -= count
    left = next((kind for kind, count in taken.items() if count > 0), "")
    if left:
        return f"an entry takes the {left} off a note that still has it"
    return _new_sign(one, new, pairing)


def _ornaments(note: Node) -> list[Node]:
    return [o for notations in note.find_all("notations") for o in notations.find_all("ornaments")]


def _new_sign(one: Node, new: "Counter[Shape]", pairing: Pairing) -> str:
    spare = Counter(
        part for left in pairing.heirs.get(one.key, ()) for _, part in _signs(left, pairing)
    )
    is_rolled = one.key in pairing.page.rolled
    finger = pairing.page.fingered.get(one.key, "")
    for part in (new - spare).elements():
        if is_rolled and part[0] == "arpeggiate":
            is_rolled = False
        elif finger and part[:2] == ("fingering", finger):
            finger = ""
        else:
            return f"the sign {part[0]!r} on a note is new, and no entry says so"
    return "a roll of the entries is not there" if is_rolled else ""


def _signs(note: Node, pairing: Pairing) -> Iterator[tuple[Node, Shape]]:
    spared = _spared_signs(note, pairing)
    for node in signs(note):
        if node.tag not in spared:
            yield node, sign_shape(node, is_moving=pairing.interval is not None)


def _spared_signs(note: Node, pairing: Pairing) -> frozenset[str]:
    """Which signs of a note are not compared."""
    spared = LINES if pairing.loses_lines else frozenset()
    return spared | {"tuplet"} if note.key in pairing.page.lengthened else spared
