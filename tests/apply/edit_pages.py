"""Small scores for trying edits on, written as text so that their bytes are our own."""

from collections.abc import Callable, Iterable

from arrange.apply.transaction import Transaction
from arrange.changes import Change, ChangeLog, Fidelity, Where
from arrange.edits import Edit, NoteValue
from arrange.pitch import Pitch
from arrange.score.document import Document
from arrange.score.model import Note
from arrange.score.reading import Reading
from arrange.units import Quarters

HEAD = """<?xml version='1.0' encoding='UTF-8'?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"
  "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0">
  <part-list>
    <score-part id="P1"><part-name>Harp</part-name></score-part>
  </part-list>
  <part id="P1">
"""
TAIL = "  </part>\n</score-partwise>\n"
_TYPES = {1: "16th", 2: "eighth", 3: "eighth", 4: "quarter", 6: "quarter", 8: "half", 12: "half"}
_TYPES |= {16: "whole"}


def attributes(divisions: int = 4, beats: int = 4) -> str:
    return f"""<attributes><divisions>{divisions}</divisions><key><fifths>0</fifths></key>
      <time><beats>{beats}</beats><beat-type>4</beat-type></time><staves>2</staves>
      <clef number="1"><sign>G</sign><line>2</line></clef>
      <clef number="2"><sign>F</sign><line>4</line></clef></attributes>"""


def note(name: str, length: int, *more: str, voice: int = 1, chord: bool = False) -> str:
    """A note element; *length* in sixteenths. *more*: child elements as text.

    In front stay ``<tie`` and ``<grace``; others stand in the schema's order behind the staff.
    """
    ties = "".join(m for m in more if m.startswith("<tie "))
    beams = "".join(m for m in more if m.startswith(("<beam",)))
    mods = "".join(m for m in more if m.startswith("<time-mod"))
    words = "".join(m for m in more if m.startswith("<lyric"))
    kinds = ("<tie ", "<beam", "<time-mod", "<lyric", "<grace")
    signs = "".join(m for m in more if not m.startswith(kinds))
    is_grace = "<grace/>" in more
    staff = 1 if voice < 5 else 2
    kind = _TYPES[length] if not mods else "eighth"
    dot = "<dot/>" if length in (3, 6, 12) and not mods else ""
    return (
        "      <note>"
        + ("<grace/>" if is_grace else "")
        + ("<chord/>" if chord else "")
        + sounding(name)
        + ("" if is_grace else f"<duration>{length}</duration>")
        + f"{ties}<voice>{voice}</voice><type>{kind}</type>{dot}{mods}"
        + f"<staff>{staff}</staff>{beams}"
        + (f"<notations>{signs}</notations>" if signs else "")
        + f"{words}</note>\n"
    )


def sounding(name: str) -> str:
    if name == "r":
        return "<rest/>"
    pitch = Pitch.parse(name)
    alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
    return f"<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


def back(length: int) -> str:
    return f"      <backup><duration>{length}</duration></backup>\n"


def page(*measures: str, head: str = HEAD) -> bytes:
    """The bytes of a score with these measures."""
    numbered = (
        f'    <measure number="{i}">\n{text}    </measure>\n' for i, text in enumerate(measures, 1)
    )
    return (head + "".join(numbered) + TAIL).encode()


class Page:
    """A score under work."""

    def __init__(self, raw: bytes) -> None:
        self.raw = raw
        self.document = Document.read(raw, "page.musicxml")
        self.reading = Reading(self.document)
        self.log = ChangeLog()

    def notes(self, index: int = 0) -> tuple[Note, ...]:
        return self.reading.score().parts[0].measures[index].notes

    def at(self, text: str) -> Note:
        """The note at ``index:pitch``, or the first of measure 0 with that pitch."""
        index, _, name = text.rpartition(":")
        wanted = Pitch.parse(name)
        return next(n for n in self.notes(int(index or 0)) if n.pitch == wanted)

    def now(self) -> str:
        return self.document.to_bytes().decode()

    def transaction(self, **more: object) -> Transaction:
        return Transaction(self.document, self.reading, self.log, **more)  # type: ignore[arg-type]

    def apply(self, *edits: Edit) -> str:
        """Offer one change in a transaction of its own; say what became of it."""
        with self.transaction() as transaction:
            outcome = transaction.offer(change(*edits))
        return f"{outcome.value} {self.log.entries[-1].detail}".strip()


def change(
    *edits: Edit,
    rule: str = "try-an-edit",
    fidelity: Fidelity = Fidelity.LOSSY,
    depends_on: Iterable[str] = (),
) -> Change:
    where = Where("P1", 0, "1", Quarters(0), 1)
    return Change(rule, where, "It is tried out.", fidelity, edits, depends_on=tuple(depends_on))


def moved(note_: Note, name: str) -> NoteValue:
    """What the note is with another pitch."""
    return altered(note_, lambda v: (v.offset, v.duration, Pitch.parse(name)))


def lasting(note_: Note, duration: Quarters) -> NoteValue:
    """What the note is with another length."""
    return altered(note_, lambda v: (v.offset, duration, v.pitch))


def altered(
    note_: Note, how: Callable[[NoteValue], tuple[Quarters, Quarters, Pitch]]
) -> NoteValue:
    value = NoteValue.of(note_)
    offset, duration, pitch = how(value)
    return NoteValue(
        value.index, offset, value.staff, value.voice, duration, value.is_grace, pitch
    )


ACCENT = "<articulations><accent/></articulations>"
SLUR = '<slur type="{}" number="1"/>'
RICH = page(
    "      " + attributes() + "\n"
    + '      <direction placement="above"><direction-type><words>dolce</words></direction-type>'
    + "<direction-type><dynamics><p/></dynamics></direction-type><staff>1</staff>"
    + '<sound tempo="72"/></direction>\n'
    + note("E4", 2, '<beam number="1">begin</beam>', SLUR.format("start"))
    + note("F4", 2, '<beam number="1">continue</beam>')
    + note("G4", 1, '<beam number="1">continue</beam>', '<beam number="2">begin</beam>')
    + note("A4", 1, '<beam number="1">end</beam>', '<beam number="2">end</beam>')
    + note("B4", 4, SLUR.format("stop"), "<lyric number='1'><text>la</text></lyric>")
    + note("C5", 6, '<tie type="start"/>', '<tied type="start"/>')
    + note("E5", 6, chord=True)
    + back(16)
    + '      <direction><direction-type><pedal type="start"/></direction-type><staff>2</staff>'
    + '<sound damper-pedal="yes"/></direction>\n'
    + note("C3", 8, "<arpeggiate/>", "<technical><fingering>5</fingering></technical>", voice=5)
    + note("G3", 8, "<arpeggiate/>", chord=True, voice=5)
    + note("E4", 8, "<arpeggiate/>", chord=True, voice=5)
    + note("C2", 8, "<technical><fingering>5</fingering><fingering>4</fingering></technical>",
           voice=5),
    note("C5", 4, '<tie type="stop"/>', '<tied type="stop"/>', ACCENT)
    + note("D5", 1, "<grace/>")
    + note("E5", 4)
    + note("r", 4)
    + note("G5", 4, "<fermata/>")
    + back(16)
    + note("C3", 16, voice=5),
    note("F4", 16, '<glissando type="start" number="1" line-type="wavy"/>')
    + back(16)
    + note("F2", 8, voice=5)
    + note("C3", 8, voice=5),
    note("F6", 4, '<glissando type="stop" number="1" line-type="wavy"/>')
    + note("r", 12)
    + back(16)
    + note("F2", 16, voice=5),
)  # fmt: skip
"""Beams, slurs, ties, chords, rolls, fingering, a lyric, a grace note, a glissando, marks."""
