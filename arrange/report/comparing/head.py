"""Compares what stands before the music: titles, names, rights, the list of parts, page setup."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from arrange.phrasing import counted
from arrange.report.comparing.changed import changed_texts
from arrange.report.comparing.engraved import Fields
from arrange.report.comparing.items import called, look_of, on_one_line, page_of, said
from arrange.report.comparing.pairing import PairedParts, PartPairs
from arrange.report.comparing.records import Aspect, Difference, Kind
from arrange.report.comparing.sheets import Sheet, SheetPart
from arrange.score.nodes import Node

_TITLES = {
    "work-title": "title of the work",
    "work-number": "number of the work",
    "movement-title": "title",
    "movement-number": "number of the movement",
}
_LAYOUT = "page setup: "


def head_differences(one: Sheet, two: Sheet, parts: PairedParts) -> Iterator[Difference]:
    """Yield what differs in the head of two files."""
    before, after = _fields(one.root), _fields(two.root)
    for change in changed_texts(_left(before, after), _left(after, before)):
        aspect = Aspect.LAYOUT if change.field.startswith(_LAYOUT) else Aspect.HEAD
        yield _told(aspect, change.field, change.before, change.after)
    yield from _part_differences(one, two, parts)


def _told(aspect: Aspect, name: str, before: str, after: str, part: str = "") -> Difference:
    shown = name[:1].upper() + name[1:]
    if before and after:
        kind, sentence = Kind.CHANGED, f"{shown}: “{after}” in place of “{before}”."
    elif after:
        kind, sentence = Kind.ADDED, f"{shown}: “{after}” (new)."
    else:
        kind, sentence = Kind.REMOVED, f"{shown}: “{before}” left out."
    return Difference(aspect, kind, sentence, part, before=before, after=after)


def _fields(root: Node) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, text in _named(root):
        found.setdefault(name, []).append(text)
    return found


def _left(mine: dict[str, list[str]], other: dict[str, list[str]]) -> Fields:
    """What only this side says; of several texts of one name each has a number."""
    found: Fields = {}
    for name, texts in mine.items():
        left = Counter(texts) - Counter(other.get(name, ()))
        for i, text in enumerate(left.elements()):
            found[f"{name} ({i + 1})" if i else name] = text
    return found


def _named(root: Node) -> Iterator[tuple[str, str]]:
    for node in root.children:
        if node.tag == "work":
            yield from (
                (_TITLES.get(c.tag, called(c.tag)), on_one_line(c.text) or said(c))
                for c in node.children
            )
        elif node.tag in _TITLES:
            yield _TITLES[node.tag], on_one_line(node.text)
        elif node.tag == "identification":
            yield from _identification(node)
        elif node.tag == "defaults":
            yield from ((_LAYOUT + called(c.tag), _setup(c)) for c in node.children)
        elif node.tag == "credit":
            yield from _credit(node)
        elif node.tag == "part-list":
            groups = [child for child in node.children if child.tag == "part-group"]
            yield from (("group of parts", said(group)) for group in groups if said(group))


def _setup(node: Node) -> str:
    look = " ".join(f"{k} {v}" for k, v in (*look_of(node), *page_of(node)))
    return " ".join(filter(None, (said(node), look)))


def _identification(node: Node) -> Iterator[tuple[str, str]]:
    for child in node.children:
        kind = child.attrs.get("type", "")
        if child.tag in ("creator", "rights", "relation"):
            yield kind or called(child.tag), on_one_line(child.text)
        elif child.tag == "encoding":
            yield from (
                (f"encoding: {called(inner.tag)}", said(inner)) for inner in child.children
            )
        elif child.tag == "miscellaneous":
            for inner in child.children:
                yield f"field {inner.attrs.get('name', '')!r}", on_one_line(inner.text)
        else:
            yield called(child.tag), said(child)


def _credit(node: Node) -> Iterator[tuple[str, str]]:
    kind = ", ".join(on_one_line(c.text) for c in node.find_all("credit-type"))
    words = [c for c in node.children if c.tag in ("credit-words", "credit-symbol")]
    page = node.attrs.get("page", "1")
    name = f"text on page {page}{f' ({kind})' if kind else ''}"
    text = " ".join(filter(None, (on_one_line(c.text) for c in words)))
    if text:
        yield name, text
    looks = [" ".join(f"{k} {v}" for k, v in (*look_of(c), *page_of(c))) for c in words]
    shown = " / ".join(filter(None, looks))
    if shown:
        yield f"{_LAYOUT}{name}", shown
    images = [said(c) for c in node.children if c.tag == "credit-image"]
    yield from ((f"picture on page {page}", image) for image in images)


def _part_differences(one: Sheet, two: Sheet, parts: PairedParts) -> Iterator[Difference]:
    for part in parts.removed:
        yield _whole_part(part, Kind.REMOVED)
    for part in parts.added:
        yield _whole_part(part, Kind.ADDED)
    listed_before, listed_after = _listed(one.root), _listed(two.root)
    for a, b in parts.pairs:
        before, after = listed_before.get(a.part.id, {}), listed_after.get(b.part.id, {})
        for change in changed_texts(before, after):
            yield _told(Aspect.HEAD, change.field, change.before, change.after, b.part.id)
    yield from _order(one.parts, parts.pairs)


def _whole_part(part: SheetPart, kind: Kind) -> Difference:
    name = part.part.name or part.part.id
    notes = counted(part.notes, "note")
    is_new = kind is Kind.ADDED
    verb = "Added" if is_new else "Left out"
    text = f"{name}, {notes}"
    return Difference(
        Aspect.STRUCTURE,
        kind,
        f"{verb}: the whole part {name} ({notes}).",
        part.part.id,
        before="" if is_new else text,
        after=text if is_new else "",
    )


def _listed(root: Node) -> dict[str, Fields]:
    part_list = root.find("part-list")
    if part_list is None:
        return {}
    return {
        node.attrs.get("id", ""): _part_fields(node)
        for node in part_list.children
        if node.tag == "score-part"
    }


def _part_fields(node: Node) -> Fields:
    found: Fields = {}
    for child in node.children:
        texts: dict[str, str] = {}
        if child.tag in ("part-name", "part-abbreviation"):
            texts[called(child.tag)] = on_one_line(child.text)
        elif child.children:
            prefix = "instrument" if child.tag == "score-instrument" else called(child.tag)
            texts = {
                f"{prefix}: {called(inner.tag)}": said(inner) or "yes" for inner in child.children
            }
        elif said(child):
            texts[called(child.tag)] = said(child)
        for name, text in texts.items():
            found[name] = f"{found[name]}; {text}" if name in found else text
    return {name: text for name, text in found.items() if text}


def _order(before: Sequence[SheetPart], pairs: PartPairs) -> Iterator[Difference]:
    """A difference where the parts stand in another order."""
    places = {id(part): i for i, part in enumerate(before)}
    order = [places[id(one)] for one, _ in pairs]
    if order != sorted(order):
        was = sorted(pairs, key=lambda pair: places[id(pair[0])])
        names_before = ", ".join(one.part.name or one.part.id for one, _ in was)
        names_after = ", ".join(two.part.name or two.part.id for _, two in pairs)
        told = _told(Aspect.HEAD, "order of the parts", names_before, names_after)
        yield replace(told, kind=Kind.MOVED)
