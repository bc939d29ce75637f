"""The short notation of the rules' examples: text to MusicXML, and a score back to text.

::

    key=-3 time=3/4 tempo=72 harp=lever-34 name=Harp
    RH: "dolce" Bb4q. C#4+E4e | rq G4h~ | G4h.(fermata)
    LH: Eb2h. | [ped] Eb2h. | Eb2h.

``name=value`` words come first, each optional; ``book`` is the rule book that an example is for.
``RH:`` and ``LH:`` begin a staff, ``RH2:`` a second voice on it; without any, the music is the
right hand's and the left hand rests. ``|`` parts measures; one may stand before the first.

A note is letter, sign, octave, joined by ``+`` in a chord, then a length: ``w h q e s t`` (whole
to thirty-second), ``3`` for a triplet, dots, ``~`` for a tie to the next. ``g`` before it makes a
grace note. Signs stand in brackets after a pitch (that note) or after the length (the whole
chord): ``(roll) (fermata) (trill) (mordent) (gliss) (gliss-end) (slur) (slur-end) (damp)
(harmonic)``, or fingers ``(3)``. ``r`` with a length is a rest.

Words stand in quotes before the note that they belong to, ``<`` before them prints them below;
``¶`` in them begins a line; ``#id`` after them is the id of the direction. Other marks stand in
square brackets: ``[mf]``, ``[ped]``, ``[ped-up]``, ``[rehearsal B]``, ``[pedals D0 C0 B-1]``,
``[double-bar]``, ``[8va]``, ``[8va-end]``, ``[8vb]``, ``[8vb-end]``. A line ``field name=value``
is a miscellaneous field of the file.
"""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from xml.sax.saxutils import escape, quoteattr

from shown import LENGTHS, notation

from arrange.score.document import Document
from arrange.score.reading.reading import Reading

__all__ = ["Example", "notation", "parse", "read", "to_musicxml"]

DIVISIONS = 96
TYPES = {"w": "whole", "h": "half", "q": "quarter", "e": "eighth", "s": "16th", "t": "32nd"}
SIGNS = {
    "roll": "<arpeggiate/>",
    "fermata": "<fermata/>",
    "trill": "<ornaments><trill-mark/></ornaments>",
    "mordent": "<ornaments><mordent/></ornaments>",
    "gliss": '<glissando type="start" number="1"/>',
    "gliss-end": '<glissando type="stop" number="1"/>',
    "slur": '<slur type="start" number="1"/>',
    "slur-end": '<slur type="stop" number="1"/>',
    "harmonic": "<technical><harmonic/></technical>",
    "damp": '<technical><other-technical smufl="pluckedDamp"/></technical>',
}
OCTAVE_LINES = {
    "8va": '<octave-shift type="down" size="8"/>',
    "8va-end": '<octave-shift type="stop" size="8"/>',
    "8vb": '<octave-shift type="up" size="8"/>',
    "8vb-end": '<octave-shift type="stop" size="8"/>',
}
DYNAMICS = frozenset({"pp", "p", "mp", "mf", "f", "ff"})

_TOKEN = re.compile(r'<?"[^"]*"(?:#\S+)?|\[[^\]]*\]|\S+')
_NOTE = re.compile(
    r"(?P<grace>g?)(?P<pitches>[A-G][^whqest]*?)(?P<length>[whqest]3?\.*)(?P<rest>.*)"
)
_PITCH = re.compile(r"([A-G])(#{1,2}|b{1,2})?(\d)(~?)((?:\([^)]*\))*)")
_REST = re.compile(r"r([whqest]3?\.*)")
_STAFF = re.compile(r"(RH|LH)(2?):")
_HEADER = re.compile(r"(\w+)=(\S+)")


@dataclass
class Example:
    """An example as it is written.

    Attributes:
        header: its ``name=value`` words.
        voices: staff and voice to measures of tokens.
        fields: miscellaneous fields, name to value.
        tied: by voice, the pitches from which a tie leads on, while it is written out.
    """

    header: dict[str, str] = field(default_factory=dict)
    voices: dict[tuple[int, str], list[list[str]]] = field(default_factory=dict)
    tied: dict[str, set[str]] = field(default_factory=dict)
    fields: dict[str, str] = field(default_factory=dict)


def parse(text: str) -> Example:
    """Read the short notation."""
    example = Example()
    current = (1, "1")
    for line in text.splitlines():
        rest = line.strip()
        if rest.startswith("field "):
            name, _, value = rest.removeprefix("field ").partition("=")
            example.fields[name] = value
            continue
        while match := _HEADER.match(rest):
            example.header[match[1]] = match[2]
            rest = rest[match.end() :].lstrip()
        if match := _STAFF.match(rest):
            staff = 1 if match[1] == "RH" else 2
            current = (staff, str(4 * (staff - 1) + (2 if match[2] else 1)))
            rest = rest[match.end() :].strip()
        if rest:
            measures = example.voices.setdefault(current, [])
            measures.extend(_measures(rest))
    return example


def _measures(text: str) -> list[list[str]]:
    rows: list[list[str]] = [[]]
    for token in _TOKEN.findall(text):
        if token == "|":  # noqa: S105 - a barline
            rows.append([])
        else:
            rows[-1].append(token)
    return rows[1:] if not rows[0] else rows


def to_musicxml(text: str) -> bytes:
    """The MusicXML of an example, one element of a measure a line."""
    example = parse(text)
    header = example.header
    beats, beat_type = map(int, header.get("time", "4/4").split("/"))
    full = Fraction(4 * beats, beat_type)
    count = max((len(rows) for rows in example.voices.values()), default=1)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<score-partwise version="4.0">',
        *_fields(example),
        "<part-list>",
        f'<score-part id="P1"><part-name>{escape(header.get("name", "Harp"))}</part-name>',
        "</score-part>",
        "</part-list>",
        '<part id="P1">',
    ]
    for index in range(count):
        lines.append(f'<measure number="{index + 1}">')
        if index == 0:
            lines.append(_attributes(int(header.get("key", "0")), beats, beat_type))
            lines.extend(_tempo(header))
        lines.extend(_measure(example, index, full))
        lines.append("</measure>")
    lines += ["</part>", "</score-partwise>", ""]
    return "\n".join(lines).encode()


def _fields(example: Example) -> list[str]:
    if not example.fields:
        return []
    inner = "".join(
        f"<miscellaneous-field name={quoteattr(name)}>{escape(value)}</miscellaneous-field>"
        for name, value in example.fields.items()
    )
    return [f"<identification><miscellaneous>{inner}</miscellaneous></identification>"]


def _attributes(fifths: int, beats: int, beat_type: int) -> str:
    return (
        f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>"
        f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time><staves>2</staves>"
        '<clef number="1"><sign>G</sign><line>2</line></clef>'
        '<clef number="2"><sign>F</sign><line>4</line></clef></attributes>'
    )


def _tempo(header: dict[str, str]) -> list[str]:
    if "tempo" not in header:
        return []
    return [f'<sound tempo="{header["tempo"]}"/>']


def _measure(example: Example, index: int, full: Fraction) -> list[str]:
    lines: list[str] = []
    keys = sorted(example.voices)
    for staff in (1, 2):
        if not any(key[0] == staff for key in keys):
            keys.append((staff, str(4 * staff - 3)))
    tail: list[str] = []
    for place, (staff, voice) in enumerate(sorted(keys)):
        rows = example.voices.get((staff, voice), [])
        tokens = rows[index] if index < len(rows) else []
        if place:
            lines.append(f"<backup><duration>{full * DIVISIONS}</duration></backup>")
        tied = example.tied.setdefault(voice, set())
        elements, length = _voice(tokens, staff, voice, tied)
        if not length:
            elements.append(_whole_rest(full, staff, voice))
        elif length != full:
            raise ValueError(f"measure {index + 1}, voice {voice}: {length} of {full} quarters")
        lines += elements
        if "[double-bar]" in tokens:
            tail.append('<barline location="right"><bar-style>light-light</bar-style></barline>')
    return lines + tail


def _voice(
    tokens: list[str], staff: int, voice: str, tied: set[str]
) -> tuple[list[str], Fraction]:
    lines: list[str] = []
    length = Fraction(0)
    for token in tokens:
        if token[0] in '"<':
            lines.append(_words(token, staff))
        elif token[0] == "[":
            lines.extend(_mark(token[1:-1], staff))
        elif match := _REST.fullmatch(token):
            duration, written = _length(match[1])
            lines.append(
                f"<note><rest/><duration>{duration * DIVISIONS}</duration>"
                f"<voice>{voice}</voice>{written}<staff>{staff}</staff></note>"
            )
            length += duration
        else:
            chord, duration = _chord(token, staff, voice, tied)
            lines += chord
            length += duration
    return lines, length


def _chord(token: str, staff: int, voice: str, tied: set[str]) -> tuple[list[str], Fraction]:
    match = _NOTE.fullmatch(token)
    if match is None:
        raise ValueError(f"{token!r} is no note")
    duration, written = _length(match["length"])
    shape = _Shape(
        is_grace=bool(match["grace"]),
        duration=duration,
        written=written,
        staff=staff,
        voice=voice,
        signs=re.findall(r"\(([^)]*)\)", match["rest"]),
        is_tied="~" in match["rest"],
    )
    lines = []
    for place, pitch in enumerate(match["pitches"].split("+")):
        lines.append(_note(pitch, shape, tied, is_chord=place > 0))
    return lines, Fraction(0) if shape.is_grace else duration


@dataclass(frozen=True)
class _Shape:
    """What the notes of a chord share."""

    is_grace: bool
    duration: Fraction
    written: str
    staff: int
    voice: str
    signs: list[str]
    is_tied: bool


def _note(text: str, shape: _Shape, tied: set[str], *, is_chord: bool) -> str:
    match = _PITCH.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is no pitch")
    letter, sign, octave, tie, own = match.groups()
    name = f"{letter}{sign or ''}{octave}"
    alter = (sign or "").count("#") - (sign or "").count("b")
    ties = ["stop"] if name in tied else []
    tied.discard(name)
    if tie or shape.is_tied:
        tied.add(name)
        ties.append("start")
    notations = [f'<tied type="{kind}"/>' for kind in ties]
    notations += [_sign(s) for s in [*re.findall(r"\(([^)]*)\)", own), *shape.signs]]
    parts = [
        "<note>",
        "<grace/>" if shape.is_grace else "",
        "<chord/>" if is_chord else "",
        f"<pitch><step>{letter}</step>",
        f"<alter>{alter}</alter>" if alter else "",
        f"<octave>{octave}</octave></pitch>",
        "" if shape.is_grace else f"<duration>{shape.duration * DIVISIONS}</duration>",
        *(f'<tie type="{kind}"/>' for kind in ties),
        f"<voice>{shape.voice}</voice>{shape.written}<staff>{shape.staff}</staff>",
        f"<notations>{''.join(notations)}</notations>" if notations else "",
        "</note>",
    ]
    return "".join(parts)


def _sign(name: str) -> str:
    if name.isdigit():
        return f"<technical><fingering>{name}</fingering></technical>"
    return SIGNS[name]


def _length(text: str) -> tuple[Fraction, str]:
    letter, dots, triplet = text[0], text.count("."), "3" in text
    duration = LENGTHS[letter] * (2 - Fraction(1, 2**dots)) * (Fraction(2, 3) if triplet else 1)
    written = f"<type>{TYPES[letter]}</type>" + "<dot/>" * dots
    if triplet:
        written += (
            "<time-modification><actual-notes>3</actual-notes>"
            "<normal-notes>2</normal-notes></time-modification>"
        )
    return duration, written


def _whole_rest(full: Fraction, staff: int, voice: str) -> str:
    return (
        f'<note><rest measure="yes"/><duration>{full * DIVISIONS}</duration>'
        f"<voice>{voice}</voice><staff>{staff}</staff></note>"
    )


def _words(token: str, staff: int) -> str:
    below = token.startswith("<")
    text, _, own = token.lstrip("<")[1:].rpartition('"')
    text = text.replace("¶", "\n")
    identity = f" id={quoteattr(own[1:])}" if own else ""
    return (
        f'<direction placement="{"below" if below else "above"}"{identity}>'
        f"<direction-type><words>{escape(text)}</words></direction-type>"
        f"<staff>{staff}</staff></direction>"
    )


def _mark(text: str, staff: int) -> list[str]:
    name, _, rest = text.partition(" ")
    if name == "double-bar":
        return []
    if name in DYNAMICS:
        content = f"<dynamics><{name}/></dynamics>"
    elif name == "rehearsal":
        content = f"<rehearsal>{escape(rest)}</rehearsal>"
    elif name == "pedals":
        content = "".join(
            f"<pedal-tuning><pedal-step>{word[0]}</pedal-step>"
            f"<pedal-alter>{word[1:]}</pedal-alter></pedal-tuning>"
            for word in rest.split()
        )
        content = f"<harp-pedals>{content}</harp-pedals>"
    elif name in OCTAVE_LINES:
        content = OCTAVE_LINES[name]
    else:
        content = {"ped": '<pedal type="start"/>', "ped-up": '<pedal type="stop"/>'}[name]
    return [
        f"<direction><direction-type>{content}</direction-type><staff>{staff}</staff></direction>"
    ]


def read(text: str) -> Reading:
    """An example as a reading of its document."""
    return Reading(Document.read(to_musicxml(text), "example.musicxml"))
