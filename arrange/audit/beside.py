"""Elements beside the notes that may follow from a transposition or from changed notes."""

from collections.abc import Iterator, Mapping, Sequence

from arrange.audit.pairs import Pairing
from arrange.audit.shapes import Shape, is_same, shape
from arrange.pitch import LETTERS, Interval, Pitch
from arrange.score.model import Note, Rest
from arrange.score.nodes import Node
from arrange.units import Quarters

_SIGNATURES = 7
"""Most signs of a key signature."""
_PLACED = frozenset({"direction", "harmony"})
"""Marks that stand between notes, with an offset where they speak later."""
_MOVING = frozenset({"attributes", "harmony", "figured-bass"})


def is_extra(node: Node, pairing: Pairing) -> bool:
    """Whether an element that is new in the result follows of itself."""
    if node.tag != "attributes":
        return False
    tags = {child.tag for child in node.children}
    if tags and tags <= {"clef", "divisions"}:
        may_turn = pairing.may_turn_clefs or "clef" not in tags
        return may_turn and (pairing.page.is_counted_finer or "divisions" not in tags)
    is_key = tags == {"key"} and pairing.is_first and pairing.interval is not None
    return is_key and all(_is_first_key(key, pairing) for key in node.children)


def is_followed(one: Node, two: Node, pairing: Pairing) -> bool:
    """Whether two elements of one kind differ only in what follows of itself."""
    if one.tag in _PLACED and pairing.page.takes_notes and _is_in_time(one, two, pairing):
        one, two = _unplaced(one), _unplaced(two)
    match one.tag:
        case "attributes":
            return _are_attributes(one, two, pairing)
        case "harmony" if pairing.interval is not None:
            return _is_harmony(one, two, pairing.interval)
        case "figured-bass" if pairing.interval is not None:
            texts = _FIGURE_SIGNS | _COUNTS if pairing.page.is_counted_finer else _FIGURE_SIGNS
            return _without(one, texts) == _without(two, texts)
        case "direction":
            return _is_direction(one, two, pairing)
        case _:
            return _is_counted(one, two, pairing)


def is_placed(node: Node) -> bool:
    """Whether it is a mark between notes, which says by an offset if it speaks later."""
    return node.tag in _PLACED


def in_time(
    marks: Sequence[Node], sounding: Mapping[str, Note | Rest]
) -> list[tuple[Quarters, Node]]:
    """The marks of a measure with the time at which they speak, in order of that time.

    Time is counted from the note or rest behind a mark or, at the end of a voice, before it; a
    mark beside neither keeps its place among the others.
    """
    found: list[tuple[Quarters, Node]] = []
    last = Quarters(0)
    for mark in marks:
        time = _time(mark, sounding)
        last = last if time is None else time
        found.append((last, mark))
    return sorted(found, key=lambda entry: entry[0])


def _is_in_time(one: Node, two: Node, pairing: Pairing) -> bool:
    """Whether a mark, and the tempo that it gives for playback, speaks at the same time as
    before, from another note on.
    """
    told = zip((one, *one.find_all("sound")), (two, *two.find_all("sound")), strict=False)
    times = [
        (_time(one, pairing.sounding[0], before), _time(two, pairing.sounding[1], after))
        for before, after in told
    ]
    return all(was is not None and was == now for was, now in times)


def _time(
    mark: Node, sounding: Mapping[str, Note | Rest], told: Node | None = None
) -> Quarters | None:
    """When a mark speaks; *told*: the element of it whose offset counts, itself without one."""
    around = mark.parent.children if mark.parent is not None else ()
    place = around.index(mark) if mark in around else -1
    if place < 0:
        return None
    behind = next((node for node in around[place:] if node.tag not in _PLACED), None)
    before = next((node for node in around[place::-1] if node.tag not in _PLACED), None)
    for note, is_over in ((behind, False), (before, True)):
        event = sounding.get(note.key) if note is not None else None
        length = note.child_text("duration", "0") if note is not None else "0"
        if event is not None and event.duration and length.isdecimal() and int(length):
            late = Quarters(_offset(mark, told)) * event.duration / int(length)
            return event.offset + late + (event.duration if is_over else 0)
    return None


def _offset(mark: Node, told: Node | None) -> str:
    """The offset of a mark; of its playback, its own or that of a mark that is heard so."""
    offset = mark.find("offset")
    if told is not None and told is not mark:
        is_heard = offset is not None and offset.attrs.get("sound") == "yes"
        offset = told.find("offset") or (offset if is_heard else None)
    return "0" if offset is None else offset.text


def _unplaced(mark: Node) -> Node:
    """The mark without its offset, and that of its playback."""
    kept = [child for child in mark.children if child.tag != "offset"]
    children = [_unplaced(child) if child.tag == "sound" else child for child in kept]
    plain = Node(mark.tag, mark.attrs, children)
    plain.text, plain.key = mark.text, mark.key
    return plain


def moves(node: Node, pairing: Pairing) -> bool:
    """Whether a transposition must have changed the element, so that it is looked into."""
    return pairing.interval is not None and node.tag in _MOVING


def _is_counted(one: Node, two: Node, pairing: Pairing) -> bool:
    """The same but for lengths, where the measure counts finer."""
    if not pairing.page.is_counted_finer:
        return is_same(one, two)
    return _without(one, _COUNTS) == _without(two, _COUNTS)


_COUNTS = frozenset({"duration", "offset", "divisions"})
_FIGURE_SIGNS = frozenset({"prefix", "suffix"})


def _without(node: Node, texts: frozenset[str]) -> Shape:
    """An element without the text of some that it holds."""
    if node.tag in texts:
        return (node.tag,)
    attrs = tuple(sorted(node.attrs.items()))
    return (node.tag, node.text, attrs, tuple(_without(c, texts) for c in node.children))


def _is_direction(one: Node, two: Node, pairing: Pairing) -> bool:
    """The same but for the parts that the log takes out of it."""
    taken = pairing.page.marks
    if not any(key.startswith(f"{one.key}.") for key in taken):
        return _is_counted(one, two, pairing)
    kept: list[Node] = []
    number = 0
    for child in one.children:
        if child.tag == "direction-type":
            if f"{one.key}.{number}" not in taken:
                kept.append(child)
            number += 1
        else:
            kept.append(child)
    if one.attrs != two.attrs or len(kept) != len(two.children):
        return False
    return all(_is_counted(a, b, pairing) for a, b in zip(kept, two.children, strict=True))


def _are_attributes(one: Node, two: Node, pairing: Pairing) -> bool:
    if one.attrs != two.attrs:
        return False
    rest_one, rest_two = list(_beside_keys(one, pairing)), list(_beside_keys(two, pairing))
    if rest_one != rest_two:
        return False
    keys, moved = one.find_all("key"), two.find_all("key")
    interval = pairing.interval
    if interval is None:
        return len(keys) == len(moved) and all(map(is_same, keys, moved))
    given = [key for key in moved if pairing.is_first and _is_first_key(key, pairing)]
    spare = len(moved) - len(keys)
    if spare < 0 or spare > len(given):
        return False
    paired = moved if not spare else _least_new(keys, moved)
    return len(paired) == len(keys) and all(
        _is_key(a, b, interval) for a, b in zip(keys, paired, strict=True)
    )


def _least_new(keys: list[Node], moved: list[Node]) -> list[Node]:
    """The moved keys that stood there before: those of the same staves."""
    staves = [key.attrs.get("number") for key in keys]
    return [key for key in moved if key.attrs.get("number") in staves]


def _beside_keys(attributes: Node, pairing: Pairing) -> Iterator[Shape]:
    for child in attributes.children:
        is_count = child.tag == "divisions" and pairing.page.is_counted_finer
        if child.tag != "key" and not is_count:
            yield shape(child)


def _is_first_key(key: Node, pairing: Pairing) -> bool:
    interval = pairing.interval
    return interval is not None and _is_moved(0, key.child_text("fifths"), interval)


def _is_key(one: Node, two: Node, interval: Interval) -> bool:
    fifths = one.child_text("fifths")
    if one.attrs.get("number") != two.attrs.get("number"):
        return False
    if not fifths.lstrip("+-").isdecimal():
        return one.find("fifths") is None or is_same(one, two)
    if one.child_text("mode") != two.child_text("mode"):
        return False
    return _is_moved(int(fifths), two.child_text("fifths"), interval)


def _is_moved(fifths: int, text: str, interval: Interval) -> bool:
    if not text.lstrip("+-").isdecimal():
        return False
    now = int(text)
    return (now - fifths - interval.fifths) % 12 == 0 and abs(now) <= _SIGNATURES


def _is_harmony(one: Node, two: Node, interval: Interval) -> bool:
    if one.attrs != two.attrs or len(one.children) != len(two.children):
        return False
    return all(_is_symbol(a, b, interval) for a, b in zip(one.children, two.children, strict=True))


def _is_symbol(one: Node, two: Node, interval: Interval) -> bool:
    if one.tag in ("root", "bass") and two.tag == one.tag:
        was, now = _letter(one), _letter(two)
        if was is None:
            return is_same(one, two)
        moved = interval.move(was)
        return now is not None and (moved.step, moved.alter) == (now.step, now.alter)
    if one.tag in ("kind", "numeral"):
        return one.tag == two.tag and one.text == two.text
    return is_same(one, two)


def _letter(node: Node) -> Pitch | None:
    step = node.child_text(f"{node.tag}-step")
    alter = node.child_text(f"{node.tag}-alter", "0")
    is_whole = alter.lstrip("+-").isdecimal()
    return Pitch(step, int(alter), 4) if step in LETTERS and step and is_whole else None
