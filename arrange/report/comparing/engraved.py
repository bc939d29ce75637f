"""What a note element says besides its pitch: its value, its signs, and how it is engraved."""

from collections.abc import Iterator
from enum import IntEnum

from arrange.audit.shapes import is_same
from arrange.report.comparing.items import (
    FOLLOWS_STEMS,
    ON_THE_PAGE,
    Item,
    Look,
    called,
    look_of,
    look_text,
    on_one_line,
    page_of,
    said,
)
from arrange.report.comparing.records import Aspect
from arrange.report.comparing.sheets import Tone
from arrange.score.nodes import Node
from arrange.units import Quarters

Fields = dict[str, str]
"""What is compared of a note or mark, by name; in words."""

ASPECTS = {
    "sounding pitch": Aspect.NOTES,
    "place": Aspect.RHYTHM,
    "length": Aspect.RHYTHM,
    "staff": Aspect.RHYTHM,
    "voice": Aspect.RHYTHM,
    "ties": Aspect.RHYTHM,
    "note value": Aspect.RHYTHM,
    "grace": Aspect.RHYTHM,
    "cue": Aspect.RHYTHM,
    "notehead": Aspect.MARKS,
    "playback": Aspect.MARKS,
}
"""The class of each field; every other one is layout."""

_ELSEWHERE = frozenset({"pitch", "duration", "chord", "voice", "staff"})
"""What is compared as a sounding value."""
_FOLLOWING = frozenset({"accidental", "stem", "beam"})
"""What follows of itself where a note moves."""
_FOLLOWING_TOO = _ELSEWHERE | _FOLLOWING
_PAGE_AND_STEMS = ON_THE_PAGE | FOLLOWS_STEMS
_SAID = frozenset({
    "pitch", "rest", "unpitched", "chord", "duration", "tie", "voice", "staff", "type", "dot",
    "time-modification", "grace", "cue", "stem", "beam", "accidental", "notehead", "notations",
    "lyric", "play", "instrument", "listen",
})  # fmt: skip
_PLAYBACK = frozenset({"dynamics", "end-dynamics", "attack", "release", "time-only", "pizzicato"})
_GROUPS = frozenset({"ornaments", "technical", "articulations"})
_LAYOUT_SIGNS = frozenset({"tuplet", "footnote", "level"})
_NAMES = {
    "tuplet": "tuplet bracket",
    "pluck": "fingering letter",
    "arpeggiate": "roll",
    "non-arpeggiate": "bracket against rolling",
    "up-bow": "up bow",
    "down-bow": "down bow",
    "slide": "slide line",
    "glissando": "glissando line",
    "wavy-line": "wavy line",
    "tied": "tie",
}
_ENDS = {"start": "begins", "stop": "ends", "continue": "goes on"}


class Alike(IntEnum):
    """How far two note elements are engraved alike, but for their pitches and places in time.

    Attributes:
        NOT: they differ; ON_PAGE: only their places on the page do; WHOLLY: in nothing.
    """

    NOT = 0
    ON_PAGE = 1
    WHOLLY = 2


def alike(one: Node, two: Node, *, is_moved: bool) -> Alike:
    """Compare two note elements, quickly.

    Args:
        one: the element before.
        two: its counterpart.
        is_moved: leave out what follows where a note moves: stem, beams, accidental, and the
            places on the page.
    """
    spared = _FOLLOWING_TOO if is_moved else _ELSEWHERE
    ones = [child for child in one.children if child.tag not in spared]
    twos = [child for child in two.children if child.tag not in spared]
    if len(ones) != len(twos):
        return Alike.NOT
    if one.attrs == two.attrs and all(map(is_same, ones, twos)):
        return Alike.WHOLLY
    look = _same_look if is_moved else _same_but_page
    bare = Node(one.tag, one.attrs, ()), Node(two.tag, two.attrs, ())
    if not look(*bare) or not all(map(look, ones, twos)):
        return Alike.NOT
    return Alike.WHOLLY if is_moved else Alike.ON_PAGE


def _same_but_page(one: Node, two: Node) -> bool:
    return _is_same_but(one, two, ON_THE_PAGE)


def _same_look(one: Node, two: Node) -> bool:
    return _is_same_but(one, two, _PAGE_AND_STEMS)


def _is_same_but(one: Node, two: Node, spared: frozenset[str]) -> bool:
    """Whether two elements say the same, but for some attributes."""
    if one.tag != two.tag or len(one.children) != len(two.children):
        return False
    if one.text != two.text and not (spared is _PAGE_AND_STEMS and one.tag == "accidental-mark"):
        return False
    if one.attrs != two.attrs and {k: v for k, v in one.attrs.items() if k not in spared} != {
        k: v for k, v in two.attrs.items() if k not in spared
    }:
        return False
    return all(_is_same_but(a, b, spared) for a, b in zip(one.children, two.children, strict=True))


def fields_of(tone: Tone, *, is_moved: bool) -> Fields:
    """What a note element says, without its signs.

    Args:
        tone: the note.
        is_moved: leave out what follows where a note moves: stem, beams, accidental.
    """
    node = tone.node
    found = dict(_rhythm(node))
    found.update(_sounds(tone))
    if not is_moved:
        found.update(_engraving(node))
    spared = _FOLLOWING if is_moved else frozenset()
    rest = [c for c in node.children if c.tag not in _SAID]
    found.update((called(child.tag), said(child) or "yes") for child in rest)
    shown = [
        c for c in node.children if c.tag not in ("notations", "lyric") and c.tag not in spared
    ]
    look = sorted((*look_of(*shown), *_own_look(node)))
    if look:
        found["look"] = look_text(tuple(look))
    return found


def _own_look(note: Node) -> Look:
    bare = Node(note.tag, note.attrs, ())
    return look_of(bare)


def _rhythm(note: Node) -> Iterator[tuple[str, str]]:
    dots = min(len(note.find_all("dot")), len(_DOTS) - 1)
    value = f"{_DOTS[dots]}{note.child_text('type')}"
    ratio = note.find("time-modification")
    if ratio is not None:
        value += f" {ratio.child_text('actual-notes')}:{ratio.child_text('normal-notes')}"
    if value.strip():
        is_rest = note.find("rest") is not None
        yield "rest drawn as" if is_rest else "note value", value.strip()
    ties = {c.attrs.get("type", "") for c in note.children if c.tag == "tie"} or _drawn_ties(note)
    if ties:
        yield "ties", " and ".join(_TIE_WORDS.get(tie, tie) for tie in sorted(ties))
    for child in note.children:
        if child.tag == "grace":
            slash = child.attrs.get("slash", "no") == "yes"
            yield "grace", "grace note with a stroke" if slash else "grace note"
        elif child.tag == "cue":
            yield "cue", "cue note"
        elif child.tag == "rest" and child.attrs.get("measure") == "yes":
            yield "full measure", "yes"


_DOTS = ("", "dotted ", "double-dotted ", "triple-dotted ")
_TIE_WORDS = {
    "start": "tied on",
    "stop": "tied from before",
    "continue": "tied on and from before",
}


def _drawn_ties(note: Node) -> set[str]:
    return {
        tied.attrs.get("type", "")
        for notations in note.find_all("notations")
        for tied in notations.find_all("tied")
        if tied.attrs.get("type") in _TIE_WORDS
    }


def _sounds(tone: Tone) -> Iterator[tuple[str, str]]:
    node = tone.node
    pitch = node.find("pitch")
    alter = pitch.child_text("alter") if pitch is not None else ""
    if tone.pitch is not None and alter and not alter.lstrip("+-").isdecimal():
        yield "sounding pitch", f"altered by {alter}".removesuffix(".0").removesuffix(".00")
    heads = node.find_all("notehead")
    if heads:
        yield "notehead", " ".join(on_one_line(head.text) for head in heads)
    played = [f"{n} {v}" for n, v in sorted(node.attrs.items()) if n in _PLAYBACK]
    played += [said(c) for c in node.children if c.tag in ("play", "listen")]
    if played:
        yield "playback", ", ".join(played)


def _engraving(note: Node) -> Iterator[tuple[str, str]]:
    for child in note.children:
        if child.tag == "stem":
            yield "stem", child.text.strip()
        elif child.tag == "accidental":
            yield "accidental shown", child.text.strip()
        elif child.tag == "beam":
            yield f"beam {child.attrs.get('number', '1')}", child.text.strip()
    drawn = _drawn_ties(note)
    sounding = {c.attrs.get("type", "") for c in note.children if c.tag == "tie"}
    if sounding and drawn != sounding:
        yield "tie drawn", " and ".join(sorted(drawn)) or "no"


def place_of(tone: Tone) -> Look:
    """Where on the page the note and all that hangs on it stand; rests name a line too."""
    found = page_of(tone.node)
    for child in tone.node.children:
        if child.tag in ("rest", "unpitched") and child.children:
            found += tuple((inner.tag, inner.text.strip()) for inner in child.children)
    return found


def signs_of(tone: Tone, *, is_moved: bool) -> list[Item]:
    """The signs and lyrics of a note.

    Args:
        tone: the note.
        is_moved: leave out what follows where a note moves: the side on which signs stand, and
            which accidentals ornaments show.
    """
    spared = FOLLOWS_STEMS if is_moved else frozenset()
    return list(_signs(tone.node, tone.offset, spared, is_moved=is_moved))


def _signs(
    note: Node, offset: Quarters, spared: frozenset[str], *, is_moved: bool
) -> Iterator[Item]:
    for child in note.children:
        if child.tag == "lyric":
            yield _lyric(child, offset)
        elif child.tag == "notations":
            for sign in child.children:
                for inner in sign.children if sign.tag in _GROUPS else (sign,):
                    if inner.tag == "tied" and inner.attrs.get("type") in _TIE_WORDS:
                        continue
                    yield _sign(inner, offset, spared, is_moved=is_moved)


def _sign(sign: Node, offset: Quarters, spared: frozenset[str], *, is_moved: bool) -> Item:
    text = "" if is_moved and sign.tag == "accidental-mark" else said(sign, spared=_LAYOUT_SIGNS)
    look = look_of(sign, spared=spared)
    if sign.tag == "fermata":
        look = (*look, ("type", sign.attrs.get("type", "upright")))
        text = on_one_line(sign.text)
    name = _NAMES.get(sign.tag, called(sign.tag))
    text = _ENDS.get(text, text)
    aspect = Aspect.LAYOUT if sign.tag in _LAYOUT_SIGNS else Aspect.MARKS
    return Item(aspect, name, text, offset, 0, look)


def _lyric(lyric: Node, offset: Quarters) -> Item:
    pieces = []
    for child in lyric.children:
        if child.tag == "text":
            pieces.append(on_one_line(child.text))
        elif child.tag == "elision":
            pieces.append(on_one_line(child.text) or "‿")
        elif child.tag in ("extend", "laughing", "humming"):
            pieces.append(_LYRIC_WORDS[child.tag])
    syllabic = "/".join(c.text.strip() for c in lyric.find_all("syllabic"))
    text = _with_hyphens("".join(pieces), syllabic)
    verse = lyric.attrs.get("number", "1")
    kind = "lyric" if verse == "1" else f"lyric of verse {verse}"
    return Item(Aspect.MARKS, kind, text, offset, 0, look_of(lyric))


_LYRIC_WORDS = {"extend": "_", "laughing": "(laughing)", "humming": "(humming)"}


def _with_hyphens(text: str, syllabic: str) -> str:
    """The syllable with a hyphen where the word goes on."""
    if syllabic in ("middle", "end"):
        text = f"-{text}"
    return f"{text}-" if syllabic in ("begin", "middle") else text
