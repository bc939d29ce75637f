"""Keys, meters, clefs and transpositions, where they change what was in force."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from arrange.apply.signatures import wrapped
from arrange.pitch import LETTERS, UNISON, Interval, Pitch
from arrange.report.comparing.items import Item, called, look_of, page_of, said
from arrange.report.comparing.records import Aspect
from arrange.score.nodes import Node
from arrange.score.reading.inherited import Divisions
from arrange.units import Quarters

_CLEFS = {
    ("G", "2"): "treble clef",
    ("F", "4"): "bass clef",
    ("C", "3"): "alto clef",
    ("C", "4"): "tenor clef",
    ("percussion", ""): "percussion clef",
}
_OCTAVES = {"-1": ", an octave lower", "1": ", an octave higher"}
_STEPS_OF = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Diatonic size where a file gives semitones only: the commoner spelling (house judgement)."""
_NO_KEY = "no sharps or flats"
KEY, METER, CLEF = "key signature", "time signature", "clef"
_ZERO = Quarters(0)


@dataclass(frozen=True, slots=True)
class Event:
    """A signature or clef that begins to hold.

    Attributes:
        fifths: of a usual key signature; *alters*: of one that lists its letters.
        is_new: it changes something; else it only states again what holds.
    """

    item: Item
    fifths: int | None = None
    alters: tuple[tuple[str, int], ...] = ()
    is_new: bool = True

    def moved(self, interval: Interval) -> Item:
        """What it is after a transposition; what states again is a matter of layout."""
        item = self.item
        if interval != UNISON and self.fifths is not None:
            item = replace(item, text=_fifths_text(wrapped(self.fifths + interval.fifths)))
        elif interval != UNISON and self.alters:
            item = replace(item, text=_alters_text(_moved(self.alters, interval)))
        if self.is_new:
            return item
        return replace(item, aspect=Aspect.LAYOUT, kind=f"{item.kind} stated again")


@dataclass
class Running:
    """What holds while a part is read from its first measure to its last.

    Attributes:
        divisions: how many make a quarter.
        held: kind and staff to what holds there.
    """

    divisions: Divisions = 1
    held: dict[tuple[str, int], str] = field(default_factory=dict)

    def read(self, placed: list[tuple[Quarters, Node]], *, is_first: bool) -> tuple[Event, ...]:
        """Take the attributes elements of a measure, each with its place."""
        events: list[Event] = []
        for offset, attributes in placed:
            for kind in (KEY, METER, CLEF, "transposition", "number of staves"):
                events += self._of_kind(kind, attributes, offset)
        if is_first and not any(e.item.kind == KEY and not e.item.offset for e in events):
            events.insert(0, Event(Item(Aspect.STRUCTURE, KEY, _NO_KEY, _ZERO), 0))
            self.held[KEY, 0] = _NO_KEY
        return tuple(events)

    def _of_kind(self, kind: str, attributes: Node, offset: Quarters) -> Iterator[Event]:
        found = list(_events(kind, attributes, offset))
        if kind != CLEF and len(found) > 1 and len({event.item.text for event in found}) == 1:
            found = [replace(found[0], item=replace(found[0].item, staff=0))]
        for event in found:
            staff, text = event.item.staff, event.item.text
            before = self.held.get((kind, staff), self.held.get((kind, 0), ""))
            if not staff:
                self.held = {k: v for k, v in self.held.items() if k[0] != kind}
            self.held[kind, staff] = text
            yield replace(event, is_new=before != text)


def _events(kind: str, attributes: Node, offset: Quarters) -> Iterator[Event]:
    for node in attributes.children:
        if _KINDS.get(node.tag) != kind:
            continue
        staff = node.attrs.get("number", "")
        item = Item(
            Aspect.STRUCTURE,
            kind,
            "",
            offset,
            int(staff) if staff.isdecimal() else int(kind == CLEF),
            look_of(node, spared=frozenset({"additional"})),
            page_of(node),
        )
        if kind == KEY:
            yield _key(node, item)
        else:
            yield Event(replace(item, text=_TEXTS[kind](node)))


_KINDS = {
    "key": KEY,
    "time": METER,
    "clef": CLEF,
    "transpose": "transposition",
    "staves": "number of staves",
}


def _key(node: Node, item: Item) -> Event:
    fifths = node.child_text("fifths")
    mode = node.child_text("mode")
    if mode:
        item = replace(item, look=(*item.look, ("mode", mode)))
    if fifths.lstrip("+-").isdecimal():
        return Event(replace(item, text=_fifths_text(int(fifths))), int(fifths))
    alters = []
    step = ""
    for child in node.children:
        if child.tag == "key-step":
            step = child.text.strip()
        elif (
            child.tag == "key-alter"
            and step in LETTERS
            and child.text.strip().lstrip("-").isdecimal()
        ):
            alters.append((step, int(child.text)))
    alters.sort(key=_by_letter)
    text = _alters_text(tuple(alters)) if alters else said(node)
    return Event(replace(item, text=text), None, tuple(alters))


def _by_letter(entry: tuple[str, int]) -> int:
    return LETTERS.index(entry[0])


def _fifths_text(fifths: int) -> str:
    if not fifths:
        return _NO_KEY
    sign = "sharp" if fifths > 0 else "flat"
    return f"{abs(fifths)} {sign}{'s' if abs(fifths) > 1 else ''}"


def _alters_text(alters: tuple[tuple[str, int], ...]) -> str:
    return " ".join(Pitch(step, alter, 4).name for step, alter in alters if step)


def _moved(alters: tuple[tuple[str, int], ...], interval: Interval) -> tuple[tuple[str, int], ...]:
    """Every tone of the scale moved; tones that come out plain are not listed."""
    given = dict(alters)
    moved = [interval.move(Pitch(letter, given.get(letter, 0), 4)) for letter in LETTERS]
    kept = {p.step: p.alter for p in moved if p.alter}
    return tuple((letter, kept[letter]) for letter in LETTERS if letter in kept)


def _meter_text(node: Node) -> str:
    if node.find("beats") is None:
        return "free time"
    pieces = []
    beats = ""
    for child in node.children:
        if child.tag == "beats":
            beats = child.text.strip()
        elif child.tag == "beat-type":
            pieces.append(f"{beats}/{child.text.strip()}")
    return " + ".join(pieces)


def _clef_text(node: Node) -> str:
    sign, line = node.child_text("sign", "G"), node.child_text("line")
    octave = node.child_text("clef-octave-change")
    name = _CLEFS.get((sign, line)) or f"{sign} clef on line {line}".removesuffix(" on line ")
    return name + _OCTAVES.get(octave, f", octaves {octave}" if octave not in ("", "0") else "")


def _transpose_text(node: Node) -> str:
    numbers = {name: node.child_text(name) for name in ("diatonic", "chromatic", "octave-change")}
    if not all(n.lstrip("-").isdecimal() for n in numbers.values() if n):
        return said(node)
    octaves = int(numbers["octave-change"] or 0)
    semitones = int(numbers["chromatic"] or 0)
    whole, rest = divmod(abs(semitones), 12)
    steps = (7 * whole + _STEPS_OF[rest]) * (1 if semitones >= 0 else -1)
    if numbers["diatonic"]:
        steps = int(numbers["diatonic"])
    double = ", doubled an octave away" if node.find("double") is not None else ""
    return f"sounds {Interval(steps + 7 * octaves, semitones + 12 * octaves)} from here{double}"


def _staves_text(node: Node) -> str:
    return node.text.strip()


_TEXTS = {
    METER: _meter_text,
    CLEF: _clef_text,
    "transposition": _transpose_text,
    "number of staves": _staves_text,
}


_DRAWN = frozenset({"staff-details", "part-symbol", "directive", "instruments"})


def others(attributes: Node, offset: Quarters) -> Iterator[Item]:
    """What else an attributes element says: lines of a staff, repeated measures, instruments."""
    for node in attributes.children:
        if node.tag in _KINDS or node.tag in ("divisions", "footnote", "level"):
            continue
        aspect = Aspect.STRUCTURE
        if node.tag in _DRAWN or node.find("multiple-rest") is not None:
            aspect = Aspect.LAYOUT
        staff = node.attrs.get("number", "")
        yield Item(
            aspect,
            called(node.tag),
            said(node),
            offset,
            int(staff) if staff.isdecimal() else 0,
            look_of(node),
            page_of(node),
        )
