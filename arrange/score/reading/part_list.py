"""The part list, and the measure elements of each part, partwise or timewise."""

from dataclasses import dataclass

from arrange.errors import BadInput
from arrange.score.model import Finding
from arrange.score.nodes import Node


@dataclass(frozen=True, slots=True)
class ListedPart:
    """What the part list says of one part.

    Attributes:
        names: name, abbreviation and names of its instruments, those that are there.
        sounds: instrument sounds; *programs*: MIDI programs from 1, as texts.
    """

    id: str
    name: str
    names: tuple[str, ...]
    sounds: tuple[str, ...]
    programs: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PartNodes:
    """A part that has music: its entry and its measures' elements."""

    listed: ListedPart
    measures: tuple[Node, ...]


def listed_parts(root: Node) -> tuple[ListedPart, ...]:
    """The entries of the part list, in order."""
    part_list = root.find("part-list")
    if part_list is None:
        return ()
    return tuple(_listed(node) for node in part_list.children if node.tag == "score-part")


def _listed(node: Node) -> ListedPart:
    name = " ".join(node.child_text("part-name").split())
    names = [name, node.child_text("part-abbreviation")]
    sounds, programs = [], []
    for child in node.children:
        if child.tag == "score-instrument":
            names.append(child.child_text("instrument-name"))
            sounds.append(child.child_text("instrument-sound"))
        elif child.tag == "midi-instrument":
            programs.append(child.child_text("midi-program"))
    kept = tuple(dict.fromkeys(" ".join(n.split()) for n in names if n.strip()))
    return ListedPart(
        node.attrs.get("id", ""), name, kept, tuple(filter(None, sounds)), tuple(programs)
    )


def part_nodes(root: Node, file: str) -> tuple[tuple[PartNodes, ...], tuple[Finding, ...]]:
    """The parts that have music, in their order in the music, and what was odd.

    Raises:
        BadInput: The score has no part with a measure.
    """
    found = _timewise(root) if root.tag == "score-timewise" else _partwise(root)
    found = [(name, measures) for name, measures in found if measures]
    if not found:
        raise BadInput("the score has no measures; export it again", file=file)
    listed = listed_parts(root)
    findings: list[Finding] = []
    names = _names([name for name, _ in found], listed, findings)
    by_id = {entry.id: entry for entry in listed}
    parts = []
    for name, (_, measures) in zip(names, found, strict=True):
        if name not in by_id:
            findings.append(Finding("The part is missing in the part list.", name))
        entry = by_id.get(name) or ListedPart(name, "", (), (), ())
        parts.append(PartNodes(entry, tuple(measures)))
    silent = [entry for entry in listed if entry.id not in names]
    findings.extend(
        Finding(f"The part list names '{e.name or e.id}', but the score has no such part.", e.id)
        for e in silent
    )
    counts = {len(part.measures) for part in parts}
    if len(counts) > 1:
        findings.append(
            Finding(
                f"The parts have different numbers of measures, from {min(counts)} to "
                f"{max(counts)}; they are counted from the start."
            )
        )
    return tuple(parts), tuple(findings)


def _partwise(root: Node) -> list[tuple[str, list[Node]]]:
    return [(part.attrs.get("id", ""), part.find_all("measure")) for part in root.find_all("part")]


def _timewise(root: Node) -> list[tuple[str, list[Node]]]:
    parts: dict[str, list[Node]] = {}
    for measure in root.find_all("measure"):
        for part in measure.find_all("part"):
            parts.setdefault(part.attrs.get("id", ""), []).append(part)
    return list(parts.items())


def _names(given: list[str], listed: tuple[ListedPart, ...], findings: list[Finding]) -> list[str]:
    """An id of its own for each part; one that is missing or used twice gets the list's."""
    free = [entry.id for entry in listed if entry.id not in given]
    names: list[str] = []
    for i, name in enumerate(given):
        if name and name not in names:
            names.append(name)
            continue
        replacement = free.pop(0) if free else f"P{i + 1}"
        while replacement in given or replacement in names:
            replacement += "x"
        findings.append(
            Finding(f"A part has {'the id of another' if name else 'no id'}.", replacement)
        )
        names.append(replacement)
    return names


def give_keys(measure: Node) -> None:
    """Name the elements of a measure by kind and order, once; edits name what they bring."""
    if measure.key:
        return
    measure.key = "m"
    counts: dict[str, int] = {}
    for child in measure.children:
        kind = _KEYS.get(child.tag)
        if kind is not None and not child.key:
            count = counts.get(kind, 0)
            counts[kind] = count + 1
            child.key = f"{kind}{count}"


_KEYS = {
    "note": "n",
    "direction": "d",
    "attributes": "a",
    "sound": "s",
    "barline": "b",
    "harmony": "h",
    "forward": "f",
    "backup": "k",
}
