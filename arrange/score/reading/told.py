"""What a note element says, whatever stands around it; read once for all spelled alike."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from arrange.quick import quickly_made
from arrange.score.model import Notation
from arrange.score.nodes import Node, inside_of, one_alike
from arrange.score.reading.inherited import Divisions
from arrange.score.reading.notations import sign_nodes
from arrange.score.reading.pitches import ACCIDENTALS, WrittenPitch, written_pitch
from arrange.score.reading.place import Place
from arrange.units import Quarters

_TYPES = (
    "1024th", "512th", "256th", "128th", "64th", "32nd", "16th", "eighth", "quarter", "half",
    "whole", "breve", "long", "maxima",
)  # fmt: skip
TYPE_QUARTERS = {name: Quarters(2) ** (i - 8) for i, name in enumerate(_TYPES)}
"""Note values in quarters (MusicXML 4.0)."""

MOST_DOTS = 8
"""More dots than any note has; further ones are not read (house judgement)."""

_SAID_ONCE = frozenset({
    "pitch", "rest", "duration", "voice", "type", "staff", "time-modification", "accidental",
})  # fmt: skip
_SMALL = ("cue", "grace-cue")
_NO_TIES = (False, False)
_Found = dict[str, Node]
"""The last child of each tag."""


@quickly_made
@dataclass(frozen=True, slots=True)
class NoteTold:
    """What the children of a note say.

    Attributes:
        length: in divisions; 0 for a grace note.
        value: what type, dots and tuplet say, in a tuplet; *is_in_tuplet*: it has one.
        voice: empty where it is not said.
        written: its pitch; None for what has none or is refused.
        refusal: why it is no note; empty where it is one.
        remark: what is odd about its pitch; empty where nothing is.
    """

    is_grace: bool
    is_chord: bool
    is_rest: bool
    is_whole_rest: bool
    length: Divisions
    value: Quarters | None
    is_in_tuplet: bool
    staff: int
    voice: str
    written: WrittenPitch | None
    refusal: str
    remark: str
    is_small: bool
    arrives: bool
    leaves: bool
    notations: tuple[Notation, ...]
    has_lyric: bool


def told_by(note: Node, place: Place) -> NoteTold:
    """What a note element says.

    Raises:
        BadInput: Something in it is said twice, or is no number.
    """
    inside = inside_of(note)
    if inside is None:
        return _told(note, place)
    told: NoteTold | None = inside.known.get(NoteTold)
    if told is None:
        told = inside.known[NoteTold] = _told(one_alike(note), place)
    return told


def _told(note: Node, place: Place) -> NoteTold:
    children = note.children
    found = {child.tag: child for child in children}
    if len(found) != len(children):
        _require_once(note, place)
    is_grace, rest = "grace" in found, found.get("rest")
    length: Divisions = 0
    value: Quarters | None = None
    is_in_tuplet = "time-modification" in found
    if not is_grace:
        length = _length(found, place)
        if is_in_tuplet:
            value = _written_value(note, found, place)
    staff, voice = _staff(found, place), found.get("voice")
    written, refusal = _written(found)
    arrives, leaves = _NO_TIES
    notations: tuple[Notation, ...] = ()
    if written is not None and ("notations" in found or "tie" in found):
        arrives, leaves = _ties(note)
        if "notations" in found:
            notations = tuple(notation for notation, _ in sign_nodes(note))
    return NoteTold(
        is_grace,
        "chord" in found,
        rest is not None,
        rest is not None and rest.attrs.get("measure") == "yes",
        length,
        value,
        is_in_tuplet,
        staff,
        "" if voice is None else voice.text.strip() or "1",
        written,
        refusal,
        _remark(written, found) if written is not None else "",
        _is_small(found),
        arrives,
        leaves,
        notations,
        "lyric" in found,
    )


def _require_once(node: Node, place: Place) -> None:
    """A note that says something twice is not read: who knows which of the two it means."""
    tags = [child.tag for child in node.children if child.tag in _SAID_ONCE]
    for tag in tags:
        if tags.count(tag) > 1:
            raise place.bad(f"a note has <{tag}> twice; delete one")


def _length(found: _Found, place: Place) -> Divisions:
    given = found.get("duration")
    if given is None:
        raise place.bad("a note has no duration; export the score again as MusicXML")
    length = place.divisions(given.text, "a duration")
    if length < 0:
        raise place.bad("a duration is below 0; correct it")
    return length


def _written_value(node: Node, found: _Found, place: Place) -> Quarters | None:
    kind, ratio = found.get("type"), found["time-modification"]
    if kind is None:
        return None
    dots = min(len(node.find_all("dot")), MOST_DOTS) if "dot" in found else 0
    what = "a tuplet's number of notes"
    actual = place.whole(ratio.child_text("actual-notes"), what)
    normal = place.whole(ratio.child_text("normal-notes"), what)
    return _value(kind.text, dots, actual, normal)


@lru_cache(maxsize=1024)
def _value(kind: str, dots: int, actual: int, normal: int) -> Quarters | None:
    plain = TYPE_QUARTERS.get(kind.strip())
    if plain is None or actual <= 0:
        return None
    return plain * (2 - Fraction(1, 2**dots)) * normal / actual


def _staff(found: _Found, place: Place) -> int:
    said = found.get("staff")
    if said is None:
        return 1
    staff = place.whole(said.text, "a staff number")
    if staff > place.limits.staves:
        raise place.bad(f"a note is on staff {staff:,}; correct it")
    return staff


def _is_small(found: _Found) -> bool:
    if "cue" in found:
        return True
    kind = found.get("type")
    return kind is not None and bool(kind.attrs) and kind.attrs.get("size") in _SMALL


def _written(found: _Found) -> tuple[WrittenPitch | None, str]:
    """The pitch, and why the note is refused."""
    node = found.get("pitch")
    if node is None:
        return None, ""
    if "rest" in found:
        return None, "a note has a pitch and is a rest at once; delete one"
    said = {child.tag: child.text for child in node.children}
    if len(said) != len(node.children):
        return None, "the pitch of a note says the same twice; delete one"
    step, alter, octave = said.get("step", ""), said.get("alter", ""), said.get("octave", "")
    try:
        return written_pitch(step, alter, octave), ""
    except ValueError:
        what = f"{step.strip()!r} in octave {octave.strip()!r}"
        return None, f"a note has the pitch {what}; correct it"


def _remark(written: WrittenPitch, found: _Found) -> str:
    """What is odd about a pitch, or about the accidental shown at it."""
    if written.fault:
        return f"{written.fault}."
    if "accidental" not in found:
        return ""
    pitch, shown = written.pitch, found["accidental"].text.strip()
    if ACCIDENTALS.get(shown, pitch.alter) == pitch.alter:
        return ""
    return (
        f"The accidental shown at {pitch.step}{pitch.octave} ({shown}) contradicts the "
        f"pitch in the file ({pitch}); the pitch is read."
    )


def _ties(note: Node) -> tuple[bool, bool]:
    """Whether a tie arrives, and whether one leaves: what sounds, else what is drawn."""
    kinds = {c.attrs.get("type") for c in note.children if c.tag == "tie"}
    if not kinds:
        for notations in note.children:
            if notations.tag == "notations":
                kinds.update(c.attrs.get("type") for c in notations.children if c.tag == "tied")
    return "stop" in kinds or "continue" in kinds, "start" in kinds or "continue" in kinds
