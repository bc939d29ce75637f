"""MusicXML in a few words, for the tests of what is heard: a harp at 60, a quarter is 4."""

from arrange.score.document import Document
from arrange.score.model import Score
from arrange.score.reading import Reading

START = (
    "<attributes><divisions>4</divisions><key><fifths>0</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time></attributes><sound tempo='60'/>"
)
BACKWARD = "<barline location='right'><repeat direction='backward'/></barline>"
GRACE = "<grace/>"


def n(pitch: str, duration: int = 4, signs: str = "", *, before: str = "") -> str:
    """A note; *before* goes in front of its pitch, *signs* are its notations."""
    length = "" if before == GRACE else f"<duration>{duration}</duration>"
    inside = f"<notations>{signs}</notations>" if signs else ""
    return (
        f"<note>{before}<pitch><step>{pitch[0]}</step><octave>{pitch[1]}</octave></pitch>"
        f"{length}{inside}</note>"
    )


def sign(kind: str) -> str:
    """A direction with one sign, given as an element."""
    return f"<direction><direction-type>{kind}</direction-type></direction>"


def score(*measures: str) -> Score:
    """A harp part of these measures, the first of which says the meter and the tempo."""
    first, *others = measures
    inner = "".join(
        f"<measure number='{number}'>{content}</measure>"
        for number, content in enumerate((START + first, *others), 1)
    )
    text = (
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>Harp"
        f"</part-name></score-part></part-list><part id='P1'>{inner}</part></score-partwise>"
    )
    return Reading(Document.read(text.encode(), "heard.musicxml")).score()
