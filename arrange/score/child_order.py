"""The order in which MusicXML 4.0 wants the children of an element; tests compare the XSD."""

from arrange.score.nodes import Node

_EDITORIAL = "footnote level"
_ORDER = {
    "attributes": f"{_EDITORIAL} divisions key time staves part-symbol instruments clef"
    " staff-details transpose for-part directive measure-style",
    "backup": f"duration {_EDITORIAL}",
    "barline": f"bar-style {_EDITORIAL} wavy-line segno coda fermata ending repeat",
    "bass": "bass-separator bass-step bass-alter",
    "clef": "sign line clef-octave-change",
    "defaults": "scaling concert-score page-layout system-layout staff-layout appearance"
    " music-font word-font lyric-font lyric-language",
    "degree": "degree-value degree-alter degree-type",
    "direction": f"direction-type offset {_EDITORIAL} voice staff sound listening",
    "figure": f"prefix figure-number suffix extend {_EDITORIAL}",
    "figured-bass": f"figure duration {_EDITORIAL}",
    "forward": f"duration {_EDITORIAL} voice staff",
    "harmonic": "natural artificial base-pitch touching-pitch sounding-pitch",
    "harmony": f"root numeral function kind inversion bass degree frame offset {_EDITORIAL} staff",
    "identification": "creator rights encoding source relation miscellaneous",
    "key": "cancel fifths mode key-step key-alter key-accidental key-octave",
    "note": "grace cue chord pitch unpitched rest duration tie instrument"
    f" {_EDITORIAL} voice type dot accidental time-modification stem notehead notehead-text"
    " staff beam notations lyric play listen",
    "part-transpose": "diatonic chromatic octave-change double",
    "pitch": "step alter octave",
    "print": "page-layout system-layout staff-layout measure-layout measure-numbering"
    " part-name-display part-abbreviation-display",
    "rest": "display-step display-octave",
    "root": "root-step root-alter",
    "score-instrument": "instrument-name instrument-abbreviation instrument-sound solo ensemble"
    " virtual-instrument",
    "score-part": "identification part-link part-name part-name-display part-abbreviation"
    " part-abbreviation-display group score-instrument player midi-device midi-instrument",
    "score-partwise": "work movement-number movement-title identification defaults credit"
    " part-list part",
    "score-timewise": "work movement-number movement-title identification defaults credit"
    " part-list measure",
    "sound": "instrument-change midi-device midi-instrument play swing offset",
    "system-layout": "system-margins system-distance top-system-distance system-dividers",
    "time": "beats beat-type interchangeable senza-misura",
    "time-modification": "actual-notes normal-notes normal-type normal-dot",
    "transpose": "diatonic chromatic octave-change double",
    "tuplet": "tuplet-actual tuplet-normal",
    "unpitched": "display-step display-octave",
    "work": "work-number work-title opus",
}
# Elements whose children may stand in any order, so that a new one becomes the last.
_ANY_ORDER = (
    "articulations",
    "direction-type",
    "dynamics",
    "encoding",
    "miscellaneous",
    "notations",
    "ornaments",
    "part-list",
    "technical",
)
CHILD_ORDER: dict[str, tuple[str, ...]] = {
    **{tag: tuple(children.split()) for tag, children in _ORDER.items()},
    **dict.fromkeys(_ANY_ORDER, ()),
}
_RANKS = {
    tag: {child: rank for rank, child in enumerate(children)}
    for tag, children in CHILD_ORDER.items()
}


def successor(parent: Node, tag: str) -> Node | None:
    """The child before which an element with this tag has its place; `None` for the end.

    Raises:
        ValueError: No order is known for the parent, or it cannot hold such an element.
    """
    ranks = _RANKS.get(parent.tag)
    if ranks is None:
        raise ValueError(f"the place of <{tag}> in <{parent.tag}> must be said")
    if not ranks:
        return None
    if tag not in ranks:
        raise ValueError(f"<{parent.tag}> cannot hold <{tag}>")
    own = ranks[tag]
    for child in parent.children:
        if ranks.get(child.tag, -1) > own:
            return child
    return None
