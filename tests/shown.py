"""A score back in the short notation of the rules' examples."""

from fractions import Fraction

from arrange.score.model import EventId, Mark, MarkKind, Measure, Note, Score, Sign

LENGTHS = {letter: Fraction(4, 2**i) for i, letter in enumerate("whqest")}
"""Letter to quarters, whole note to thirty-second."""
SHOWN = {
    (Sign.ARPEGGIATE, ""): "roll",
    (Sign.FERMATA, ""): "fermata",
    (Sign.TRILL, ""): "trill",
    (Sign.MORDENT, ""): "mordent",
    (Sign.GLISSANDO, "start"): "gliss",
    (Sign.GLISSANDO, "stop"): "gliss-end",
    (Sign.SLUR, "start"): "slur",
    (Sign.SLUR, "stop"): "slur-end",
    (Sign.DAMP, ""): "damp",
    (Sign.HARMONIC, ""): "harmonic",
}


def notation(score: Score) -> str:
    """The first harp part of *score* in the short notation, one voice a line."""
    part = score.by_part[score.harp_parts[0]]
    lines = [f"field {name}={value}" for name, value in score.own.items()]
    sounding = {(n.staff, n.voice) for m in part.measures for n in m.notes}
    voices = sorted(sounding | {(r.staff, r.voice) for m in part.measures for r in m.rests})
    counts: dict[int, int] = {}
    for staff, voice in voices:
        counts[staff] = counts.get(staff, 0) + 1
        label = ("RH" if staff == 1 else "LH") + ("2" if counts[staff] > 1 else "")
        rows = [_row(m, staff, voice, with_marks=counts[staff] == 1) for m in part.measures]
        if any(rows):
            lines.append(f"{label}: {' | '.join(rows)}")
    return "\n".join(lines) + "\n"


def _row(measure: Measure, staff: int, voice: str, *, with_marks: bool) -> str:
    found: list[tuple[Fraction, int, int, str]] = []
    chords: dict[EventId, list[Note]] = {}
    for note in measure.notes:
        if (note.staff, note.voice) == (staff, voice):
            chords.setdefault(note.chord, []).append(note)
    for place, row in enumerate(chords.values()):
        order = 1 if row[0].is_grace else 2
        found.append((row[0].offset, order, place, _shown_chord(row)))
    found.extend(
        (rest.offset, 2, 0, f"r{_shown_length(rest.duration)}")
        for rest in measure.rests
        if (rest.staff, rest.voice) == (staff, voice) and not rest.is_whole_measure
    )
    for place, mark in enumerate(measure.marks if with_marks else ()):
        if mark.staff == staff and mark.kind is not MarkKind.TEMPO:
            found.append((mark.offset, 0, place, _shown_mark(mark)))
    return " ".join(text for *_, text in sorted(found))


def _shown_chord(notes: list[Note]) -> str:
    pitches = [f"{n.pitch}{'~' if n.tied_to else ''}{''.join(_shown_signs(n))}" for n in notes]
    grace = "g" if notes[0].is_grace else ""
    length = "e" if notes[0].is_grace else _shown_length(notes[0].duration)
    return f"{grace}{'+'.join(pitches)}{length}"


def _shown_signs(note: Note) -> list[str]:
    shown = []
    for sign in note.notations:
        if sign.sign is Sign.FINGERING:
            shown.append(f"({sign.text})")
        elif (sign.sign, sign.type) in SHOWN:
            shown.append(f"({SHOWN[sign.sign, sign.type]})")
        else:
            shown.append(f"({sign.sign.value})")
    return shown


def _shown_length(duration: Fraction) -> str:
    for triplet in (False, True):
        for letter, base in LENGTHS.items():
            for dots in range(3):
                length = base * (2 - Fraction(1, 2**dots)) * (Fraction(2, 3) if triplet else 1)
                if length == duration:
                    return letter + ("3" if triplet else "") + "." * dots
    return f"<{duration}>"


def _shown_mark(mark: Mark) -> str:
    words = {
        MarkKind.HARP_PEDALS: f"[pedals {mark.text}]",
        MarkKind.PIANO_PEDAL: f"[ped {mark.text}]",
        MarkKind.DYNAMICS: f"[{mark.text}]",
        MarkKind.REHEARSAL: f"[rehearsal {mark.text}]",
    }
    own = f"#{mark.own}" if mark.own else ""
    text = mark.text.replace("\n", "¶")
    return words.get(mark.kind, f'"{text}"{own}')
