"""From a file to its XML tree, whatever the container."""

import io
import zipfile
from pathlib import Path

from lxml import etree

CONTAINER = "META-INF/container.xml"
ZIP_SIGN = b"PK\x03\x04"


def rootfile(archive: zipfile.ZipFile) -> str:
    """The member that holds the score: the one that the container names, else the only one."""
    names = archive.namelist()
    try:
        container = etree.fromstring(archive.read(CONTAINER))
    except (KeyError, etree.XMLSyntaxError):
        container = None
    named: list[str] = []
    if container is not None:
        for element in container.iter("{*}rootfile"):
            kind = element.get("media-type") or "application/vnd.recordare.musicxml+xml"
            if "musicxml" in kind or kind in {"application/xml", "text/xml"}:
                named.append(element.get("full-path") or "")
    scores = [n for n in names if n.lower().endswith((".xml", ".musicxml"))]
    scores = [n for n in scores if not n.startswith(("META-INF/", "__MACOSX"))]
    for name in [*named, *scores]:
        if name in names:
            return name
    raise ValueError("the archive holds no score")


def score_bytes(content: bytes) -> bytes:
    """The score's own bytes, unpacked where *content* is an archive."""
    if not content.startswith(ZIP_SIGN):
        return content
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return archive.read(rootfile(archive))


def with_score(content: bytes, score: bytes) -> bytes:
    """*content* with its score replaced; every other member of an archive is kept."""
    if not content.startswith(ZIP_SIGN):
        return score
    packed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        root = rootfile(old)
        for member in old.infolist():
            new.writestr(member, score if member.filename == root else old.read(member))
    return packed.getvalue()


def tree_of(content: bytes) -> etree._Element:
    """Parse a score."""
    parser = etree.XMLParser(
        load_dtd=False, no_network=True, resolve_entities=False, huge_tree=True,
        remove_comments=True, remove_pis=True,
    )  # fmt: skip
    return etree.fromstring(score_bytes(content), parser)


def tree_at(path: Path) -> etree._Element:
    """Parse the score in a file."""
    return tree_of(path.read_bytes())


def measures_by_part(root: etree._Element) -> dict[str, list[etree._Element]]:
    """Measure elements (or a timewise score's part elements) of each part, in order."""
    parts: dict[str, list[etree._Element]] = {}
    if root.tag == "score-timewise":
        for measure in root.iterchildren("measure"):
            for part in measure.iterchildren("part"):
                part.set("number", measure.get("number") or "")
                parts.setdefault(part.get("id") or "", []).append(part)
        return parts
    listed = [entry.get("id") or "" for entry in root.iterfind("part-list/score-part")]
    for place, part in enumerate(root.iterchildren("part")):
        name = part.get("id") or (listed[place] if place < len(listed) else "")
        parts.setdefault(name, []).extend(part.iterchildren("measure"))
    return parts


def child_text(element: etree._Element, path: str, default: str = "") -> str:
    """The text of a child, stripped."""
    found = element.findtext(path)
    return found.strip() if found and found.strip() else default
