"""MusicXML in a few words, for the tests of reading."""

from arrange.score.document import Document
from arrange.score.model import Measure, Score
from arrange.score.reading import Reading

START = (
    "<attributes><divisions>4</divisions><key><fifths>0</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
)
TWO_STAVES = "<attributes><staves>2</staves></attributes>"
TEMPO = "<sound tempo='60'/>"


def n(pitch: str, duration: int | str = 4, inside: str = "", *, before: str = "") -> str:
    """A note; *before* goes in front of its pitch, *inside* after its duration."""
    step, alter, octave = pitch[0], pitch[1:-1].count("#") - pitch[1:-1].count("b"), pitch[-1]
    altered = f"<alter>{alter}</alter>" if alter else ""
    length = "" if "grace" in before else f"<duration>{duration}</duration>"
    return (
        f"<note>{before}<pitch><step>{step}</step>{altered}<octave>{octave}</octave></pitch>"
        f"{length}{inside}</note>"
    )


def chord(pitch: str, duration: int = 4, inside: str = "") -> str:
    """A note that follows in a chord."""
    return n(pitch, duration, inside, before="<chord/>")


def rest(duration: int = 4, *, whole: bool = False) -> str:
    kind = "<rest measure='yes'/>" if whole else "<rest/>"
    return f"<note>{kind}<duration>{duration}</duration></note>"


def back(duration: int) -> str:
    return f"<backup><duration>{duration}</duration></backup>"


def said(text: str, *, sound: str = "", placement: str = "above", staff: int = 1) -> str:
    """A direction with words."""
    return (
        f"<direction placement='{placement}'><direction-type><words>{text}</words>"
        f"</direction-type><staff>{staff}</staff>{sound}</direction>"
    )


def sign(kind: str, sound: str = "") -> str:
    """A direction with one sign, given as an element."""
    return f"<direction><direction-type>{kind}</direction-type>{sound}</direction>"


def bar(inside: str, location: str = "right") -> str:
    return f"<barline location='{location}'>{inside}</barline>"


FORWARD = bar("<repeat direction='forward'/>", "left")
BACKWARD = bar("<repeat direction='backward'/>")


def ending(number: str, *, repeats: bool = True) -> tuple[str, str]:
    """The two barlines of an ending of one measure."""
    repeat = "<repeat direction='backward'/>" if repeats else ""
    return (
        bar(f"<ending number='{number}' type='start'/>", "left"),
        bar(f"<ending number='{number}' type='stop'/>{repeat}"),
    )


def part(*measures: str, name: str = "P1", numbers: tuple[str, ...] = ()) -> str:
    shown = numbers or tuple(str(i + 1) for i in range(len(measures)))
    inner = "".join(
        f"<measure number='{number}'>{content}</measure>"
        for number, content in zip(shown, measures, strict=True)
    )
    return f"<part id='{name}'>{inner}</part>"


def listed(name: str, part_id: str = "P1", inside: str = "") -> str:
    return f"<score-part id='{part_id}'><part-name>{name}</part-name>{inside}</score-part>"


def document(parts: str, part_list: str = "", head: str = "") -> Document:
    """A score of these parts; one harp where no list is given."""
    entries = part_list or listed("Harp")
    text = (
        f"<score-partwise version='4.0'>{head}<part-list>{entries}</part-list>{parts}"
        "</score-partwise>"
    )
    return Document.read(text.encode(), "tiny.musicxml")


def score(*measures: str) -> Score:
    """A harp part of these measures, in quarters divided by four, at 60."""
    first, *others = measures
    return Reading(document(part(START + TEMPO + first, *others))).score()


def measure(content: str) -> Measure:
    """The reading of a single measure."""
    return score(content).parts[0].measures[0]


def played(found: Measure) -> list[tuple[str, str, str]]:
    """Pitch, offset and duration of each note."""
    return [(str(note.pitch), str(note.offset), str(note.duration)) for note in found.notes]


def texts(found: Score) -> list[str]:
    return [finding.text for finding in found.findings]
