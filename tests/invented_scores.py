"""Invented scores for two staves, from a throw of dice: short, dense and awkward on purpose.

They are MusicXML text written by hand here, without the program and without a library, so that
whoever reads them reads them for the first time.
"""

from dataclasses import dataclass, field

from hypothesis import strategies as st
from strategies import Throw, dice

DIVISIONS = 12
"""Divisions a quarter: sixteenths and triplets both come out whole."""

_METERS = ((2, 4), (3, 4), (4, 4), (6, 8), (5, 8))
_VALUES = (
    (48, "whole", 0), (36, "half", 1), (24, "half", 0), (18, "quarter", 1), (12, "quarter", 0),
    (9, "eighth", 1), (6, "eighth", 0), (3, "16th", 0),
)  # fmt: skip
"""Length in divisions, type, dots."""
_STEPS = "CDEFGAB"
_ALTERS = (0,) * 14 + (1, -1) * 4 + (2, -2)
_WORDS = ("dolce", "poco rit.", "sonore &lt;pp&gt;", "F#", "D C B | E F G A", "près de la table")
_PEDALS = "".join(
    f"<pedal-tuning><pedal-step>{step}</pedal-step>"
    f"<pedal-alter>{alter}</pedal-alter></pedal-tuning>"
    for step, alter in zip("DCBEFGA", (0, 1, -1, 0, 0, 1, -1), strict=True)
)


_STYLES = (
    "endings", "leap", "solo", "octave line", "tremolo", "cross-staff", "clefs", "keys",
)  # fmt: skip
"""What a score may have beside notes; each has few of them."""
_LEAPS = (
    ('dacapo="yes"', "D.C. al Fine"), ('dalsegno="segno"', "D.S. al Fine"),
    ('dacapo="yes"', "D.C."),
)  # fmt: skip
_SOLOS = ("", "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>")
"""A flute, or a clarinet in B flat."""


@dataclass
class _Page:
    """One score while it is written.

    Attributes:
        tied: by voice, the pitches that a tie leads on; *heights*: where the voice was last.
        styles: what this score has of ``_STYLES``.
    """

    throw: Throw
    lines: list[str] = field(default_factory=list)
    tied: dict[str, list[tuple[str, int, int]]] = field(default_factory=dict)
    heights: dict[str, int] = field(default_factory=dict)
    styles: frozenset[str] = frozenset()

    def is_rare(self, sides: int) -> bool:
        return self.throw(sides) == sides - 1

    def put(self, text: str) -> None:
        self.lines.append(text)


@st.composite
def scores(draw: st.DrawFn) -> bytes:
    """Draw a score; it shrinks towards few plain measures."""
    return thrown_score(lambda sides: draw(st.integers(0, sides - 1)))


def numbered_score(seed: int) -> bytes:
    """The score with this number."""
    return thrown_score(dice(seed))


def thrown_score(throw: Throw) -> bytes:
    """A score for a harp, made by *throw*: a MusicXML 4.0 file in UTF-8."""
    page = _Page(throw)
    page.styles = frozenset(style for style in _STYLES if page.is_rare(5))
    has_solo = "solo" in page.styles
    page.put('<?xml version="1.0" encoding="UTF-8"?>')
    page.put('<score-partwise version="4.0"><part-list>')
    if has_solo:
        page.put('<score-part id="P0"><part-name>Solo</part-name></score-part>')
    page.put('<score-part id="P1"><part-name>Harp</part-name></score-part></part-list>')
    meter = _METERS[throw(len(_METERS))]
    plan = _Plan.thrown(page)
    if has_solo:
        page.put('<part id="P0">')
        _solo(page, meter, plan)
        page.put("</part>")
    page.put('<part id="P1">')
    _harp(page, meter, plan)
    page.put("</part></score-partwise>")
    return "\n".join(page.lines).encode()


@dataclass(frozen=True)
class _Plan:
    """The order of play: how many measures, what stands at their barlines.

    Attributes:
        ending: the last measure of a repeat from the first on; -1 for none.
        has_endings: that measure is the first ending, the one after it the second.
        leap: what leads back from the last measure; *fine*: where it stops.
    """

    count: int
    ending: int = -1
    has_endings: bool = False
    leap: tuple[str, str] | None = None
    fine: int = 0

    @classmethod
    def thrown(cls, page: _Page) -> "_Plan":
        count = 1 + page.throw(8)
        ending = page.throw(count) if page.is_rare(3) or "endings" in page.styles else -1
        has_endings = "endings" in page.styles and 0 < ending < count - 1
        leap = _LEAPS[page.throw(len(_LEAPS))] if "leap" in page.styles and count > 1 else None
        return cls(count, ending, has_endings, leap, page.throw(count))

    def opening(self, index: int) -> str:
        """What stands at the beginning of a measure."""
        inner = ""
        if self.has_endings and index in {self.ending, self.ending + 1}:
            number = index - self.ending + 1
            inner = f'<ending number="{number}" type="start"/>'
        if self.ending >= 0 and index == 0:
            inner += '<repeat direction="forward"/>'
        line = f'<barline location="left">{inner}</barline>' if inner else ""
        if self.leap and "dalsegno" in self.leap[0] and index == min(1, self.count - 1):
            line += (
                '<direction><direction-type><segno/></direction-type><sound segno="segno"/>'
                "</direction>"
            )
        return line

    def closing(self, index: int) -> str:
        """What stands at the end of a measure."""
        words = ""
        if self.leap and "Fine" in self.leap[1] and index == self.fine:
            words = _said("Fine", 'fine="yes"')
        if self.leap and index == self.count - 1:
            words += _said(self.leap[1], self.leap[0])
        inner = ""
        if self.has_endings and index in {self.ending, self.ending + 1}:
            number = index - self.ending + 1
            kind = ("stop", "discontinue")[number - 1]
            inner = f'<ending number="{number}" type="{kind}"/>'
        if index == self.ending:
            inner += '<repeat direction="backward"/>'
        return words + (f'<barline location="right">{inner}</barline>' if inner else "")


def _said(words: str, sound: str) -> str:
    return (
        f"<direction><direction-type><words>{words}</words></direction-type>"
        f"<sound {sound}/></direction>"
    )


def _solo(page: _Page, meter: tuple[int, int], plan: _Plan) -> None:
    """One voice of another instrument."""
    length = 4 * DIVISIONS * meter[0] // meter[1]
    transposing = _SOLOS[page.throw(len(_SOLOS))]
    styles, page.styles = page.styles, frozenset()
    for index in range(plan.count):
        page.put(f'<measure number="{index + 1}">{plan.opening(index)}')
        if index == 0:
            page.put(
                f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>"
                f"{page.throw(7) - 3}</fifths></key><time><beats>{meter[0]}</beats><beat-type>"
                f"{meter[1]}</beat-type></time><clef><sign>G</sign><line>2</line></clef>"
                f"{transposing}</attributes>"
            )
        _voice(page, "1", 1, length, is_last=index == plan.count - 1)
        page.put(f"{plan.closing(index)}</measure>")
    page.tied, page.heights, page.styles = {}, {}, styles


def _harp(page: _Page, meter: tuple[int, int], plan: _Plan) -> None:
    length = 4 * DIVISIONS * meter[0] // meter[1]
    for index in range(plan.count):
        is_last = index == plan.count - 1
        page.put(f'<measure number="{index + 1}">')
        _attributes(page, index, meter)
        page.put(plan.opening(index))
        _marks(page, index)
        is_high = "octave line" in page.styles and page.is_rare(3)
        if is_high:
            page.put(_octave_line("down"))
        _voice(page, "1", 1, length, is_last=is_last)
        if is_high:
            page.put(_octave_line("stop"))
        if page.is_rare(4):
            page.put(f"<backup><duration>{length}</duration></backup>")
            _voice(page, "2", 1, length, is_last=is_last)
        page.put(f"<backup><duration>{length}</duration></backup>")
        _voice(page, "5", 2, length, is_last=is_last)
        page.put(plan.closing(index))
        page.put("</measure>")


def _octave_line(kind: str) -> str:
    return (
        f"<direction><direction-type><octave-shift type='{kind}' size='8'/></direction-type>"
        "<staff>1</staff></direction>"
    )


def _attributes(page: _Page, index: int, meter: tuple[int, int]) -> None:
    if index == 0:
        fifths = page.throw(11) - 5
        page.put(
            f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>"
            f"<time><beats>{meter[0]}</beats><beat-type>{meter[1]}</beat-type></time>"
            "<staves>2</staves><clef number='1'><sign>G</sign><line>2</line></clef>"
            "<clef number='2'><sign>F</sign><line>4</line></clef></attributes>"
        )
        page.put(
            "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
            f"<per-minute>{40 + 10 * page.throw(14)}</per-minute></metronome></direction-type>"
            "</direction>"
        )
    elif page.is_rare(8):
        page.put(f"<attributes><key><fifths>{page.throw(9) - 4}</fifths></key></attributes>")


def _marks(page: _Page, index: int) -> None:
    if page.is_rare(5):
        words = _WORDS[page.throw(len(_WORDS))]
        page.put(
            f"<direction placement='above'><direction-type><words>{words}</words>"
            "</direction-type><staff>1</staff></direction>"
        )
    if page.is_rare(8) or (index == 0 and page.is_rare(2)):
        page.put(
            f"<direction><direction-type><harp-pedals>{_PEDALS}</harp-pedals></direction-type>"
            "<staff>1</staff></direction>"
        )


def _voice(page: _Page, voice: str, staff: int, length: int, *, is_last: bool) -> None:
    """Fill a measure in one voice."""
    left = length
    opened: tuple[str, int] | None = None
    while left:
        _turns(page, staff, is_amid=left < length and voice != "2")
        if left >= DIVISIONS and page.is_rare(8):
            _triplet(page, voice, staff)
            left -= DIVISIONS
            page.tied.pop(voice, None)
            continue
        fitting = [value for value in _VALUES if value[0] <= left]
        value = fitting[page.throw(len(fitting))]
        left -= value[0]
        leads_on = left > 0 or not is_last
        if page.is_rare(7):
            page.tied.pop(voice, None)
            page.put(_rest(value, voice, staff))
            continue
        if opened is None and page.is_rare(12):
            page.put(_grace(page, voice, staff))
        came, opened = opened, None
        slide = f"<{came[0]} type='stop' number='{came[1]}'/>" if came else ""
        if not came and left and page.is_rare(14):
            opened = (("glissando", "slide")[page.throw(2)], 1 + staff)
            slide = f"<{opened[0]} type='start' number='{opened[1]}' line-type='wavy'/>"
        _chord(page, value, (voice, staff), slide, leads_on=leads_on and opened is None)
    page.heights.setdefault(voice, 0)


def _turns(page: _Page, staff: int, *, is_amid: bool) -> None:
    """Another clef or key amid a measure."""
    if not is_amid:
        return
    if "clefs" in page.styles and page.is_rare(6):
        sign, line = (("G", 2), ("F", 4), ("C", 3))[page.throw(3)]
        page.put(
            f"<attributes><clef number='{staff}'><sign>{sign}</sign><line>{line}</line></clef>"
            "</attributes>"
        )
    if "keys" in page.styles and staff == 1 and page.is_rare(8):
        page.put(f"<attributes><key><fifths>{page.throw(9) - 4}</fifths></key></attributes>")


def _rest(value: tuple[int, str, int], voice: str, staff: int) -> str:
    return (
        f"<note><rest/><duration>{value[0]}</duration><voice>{voice}</voice>"
        f"<type>{value[1]}</type>{'<dot/>' * value[2]}<staff>{staff}</staff></note>"
    )


def _chord(
    page: _Page, value: tuple[int, str, int], where: tuple[str, int], sign: str, *, leads_on: bool
) -> None:
    voice, staff = where
    if "cross-staff" in page.styles and voice != "2" and page.is_rare(4):
        staff = 3 - staff
    came = page.tied.pop(voice, None)
    pitches = came if came is not None else _pitches(page, voice, staff)
    goes = leads_on and not sign and page.is_rare(6)
    if goes:
        page.tied[voice] = pitches
    ties = ("<tie type='stop'/>" if came else "") + ("<tie type='start'/>" if goes else "")
    tied = ties.replace("<tie ", "<tied ")
    roll = "<arpeggiate/>" if len(pitches) > 1 and not came and page.is_rare(6) else ""
    trill = ""
    if len(pitches) == 1 and abs(pitches[0][1]) < 2 and not ties and page.is_rare(20):
        trill = "<ornaments><trill-mark/></ornaments>"
    tremolo = ""
    if "tremolo" in page.styles and value[0] >= 6 and not trill and page.is_rare(4):
        tremolo = f"<ornaments><tremolo>{1 + page.throw(3)}</tremolo></ornaments>"
    for number, pitch in enumerate(pitches):
        signs = tied + (sign if number == 0 else "") + trill + tremolo * (number == 0) + roll
        notations = f"<notations>{signs}</notations>" if signs else ""
        lyric = ""
        if number == 0 and page.is_rare(15):
            lyric = "<lyric number='1'><syllabic>single</syllabic><text>la</text></lyric>"
        page.put(
            f"<note>{'<chord/>' if number else ''}{_pitch(pitch)}<duration>{value[0]}</duration>"
            f"{ties}<voice>{voice}</voice><type>{value[1]}</type>{'<dot/>' * value[2]}"
            f"<staff>{staff}</staff>{notations}{lyric}</note>"
        )


def _triplet(page: _Page, voice: str, staff: int) -> None:
    for number in range(3):
        kind = {0: "<tuplet type='start'/>", 2: "<tuplet type='stop'/>"}.get(number, "")
        notations = f"<notations>{kind}</notations>" if kind else ""
        page.put(
            f"<note>{_pitch(_pitches(page, voice, staff)[0])}<duration>4</duration>"
            f"<voice>{voice}</voice><type>eighth</type><time-modification><actual-notes>3"
            "</actual-notes><normal-notes>2</normal-notes></time-modification>"
            f"<staff>{staff}</staff>{notations}</note>"
        )


def _grace(page: _Page, voice: str, staff: int) -> str:
    pitch = _pitch(_pitches(page, voice, staff)[0])
    return (
        f"<note><grace slash='yes'/>{pitch}<voice>{voice}</voice><type>eighth</type>"
        f"<staff>{staff}</staff></note>"
    )


def _pitches(page: _Page, voice: str, staff: int) -> list[tuple[str, int, int]]:
    """One to five notes, the lowest near the last one of the voice."""
    home = 30 if staff == 1 else 18
    height = page.heights.get(voice, home) + page.throw(9) - 4
    if page.is_rare(12):
        height += 7 * (page.throw(5) - 2)
    height = min(max(height, 7), 54)
    page.heights[voice] = height if 10 < height < 48 else home
    count = 1 if not page.is_rare(3) else 2 + page.throw(4)
    found = []
    for _ in range(count):
        alter = _ALTERS[page.throw(len(_ALTERS))]
        found.append((_STEPS[height % 7], alter, height // 7))
        height += 1 + page.throw(4)
    return found


def _pitch(pitch: tuple[str, int, int]) -> str:
    step, alter, octave = pitch
    written = f"<alter>{alter}</alter>" if alter else ""
    return f"<pitch><step>{step}</step>{written}<octave>{octave}</octave></pitch>"
