"""Small scores made by hand, without a document."""

from collections.abc import Iterable

from arrange.pitch import Pitch
from arrange.score.model import (
    EventId,
    HandName,
    Mark,
    MarkKind,
    Measure,
    Meter,
    Notation,
    Note,
    Part,
    Score,
    Sign,
    StaffHand,
    Tempo,
)
from arrange.score.reading.pedals import pedals_in
from arrange.units import Quarters

HARP = (StaffHand("P1", 1, HandName.RIGHT), StaffHand("P1", 2, HandName.LEFT))


def sign(kind: Sign, type_: str = "", number: str = "", text: str = "") -> Notation:
    return Notation(kind, f"{kind.value}.0", type_, number, text)


GLISS_START = sign(Sign.GLISSANDO, "start", "1")
GLISS_STOP = sign(Sign.GLISSANDO, "stop", "1")
SLIDE_START = sign(Sign.SLIDE, "start", "1")
SLIDE_STOP = sign(Sign.SLIDE, "stop", "1")


class Staves:
    """Builds one part, measure by measure; notes take ids n0, n1... in each measure."""

    def __init__(self, part: str = "P1", fifths: int = 0) -> None:
        self.part = part
        self.fifths = fifths
        self._notes: list[list[Note]] = [[]]
        self._marks: list[list[Mark]] = [[]]
        self._keys = [fifths]
        self._stands_for = [-1]

    def measure(self, fifths: int | None = None, stands_for: int = -1) -> "Staves":
        self._notes.append([])
        self._marks.append([])
        self._keys.append(self._keys[-1] if fifths is None else fifths)
        self._stands_for.append(stands_for)
        return self

    def note(
        self,
        pitch: str,
        offset: str | int,
        duration: str | int = 1,
        *notations: Notation,
        staff: int = 1,
        **more: object,
    ) -> "Staves":
        """Add a note; ``with_last`` makes it one chord with the note before."""
        here = self._notes[-1]
        event = EventId(self.part, len(self._notes) - 1, f"n{len(here)}")
        if more.get("auxiliaries"):
            names = more["auxiliaries"]
            assert isinstance(names, tuple)
            more["auxiliaries"] = tuple(map(Pitch.parse, names))
        here.append(
            Note(
                event,
                Quarters(offset),
                Quarters(duration),
                staff,
                str(more.pop("voice", "1" if staff == 1 else "5")),
                Pitch.parse(pitch),
                here[-1].chord if more.pop("with_last", False) else event,
                notations=notations,
                **more,  # type: ignore[arg-type]
            )
        )
        return self

    def run(self, pitches: str, offset: str | int, step: str, **more: object) -> "Staves":
        """Single notes one after another; graces where *step* is 0."""
        at = Quarters(offset)
        for pitch in pitches.split():
            self.note(pitch, str(at), step, **more)  # type: ignore[arg-type]
            at += Quarters(step)
        return self

    def mark(self, kind: MarkKind, text: str, offset: str | int = 0, staff: int = 1) -> "Staves":
        here = self._marks[-1]
        event = EventId(self.part, len(self._marks) - 1, f"d{len(here)}")
        named = pedals_in(text) or ()
        here.append(Mark(event, kind, Quarters(offset), staff, text, pedals=named))
        return self

    def made(self) -> Part:
        measures = tuple(
            Measure(
                self.part,
                index,
                str(index + 1),
                Quarters(4),
                Meter(),
                (fifths, fifths),
                "",
                (),
                tuple(notes),
                (),
                tuple(marks),
                stands_for=stands_for,
            )
            for index, (notes, marks, fifths, stands_for) in enumerate(
                zip(self._notes, self._marks, self._keys, self._stands_for, strict=True)
            )
        )
        return Part(self.part, "Harp", 2, measures)


def score_of(
    *staves: Staves,
    harp: tuple[StaffHand, ...] = HARP,
    performed: Iterable[int] = (),
    reassigned: tuple[tuple[EventId, HandName], ...] = (),
) -> Score:
    """The parts as one score at sixty quarters a minute: a quarter is a second."""
    parts = tuple(one.made() for one in staves)
    order = tuple(performed) or tuple(range(len(parts[0].measures)))
    tempo = (Tempo(0, Quarters(0), Quarters(60)),)
    return Score("", parts, (harp,), order, tempo, reassigned=reassigned)
