"""Pedals, glissandi and plucks from MusicXML, as notation programs write them."""

from arrange.score.document import Document
from arrange.score.model import MarkKind, Score, SweepForm
from arrange.score.performed import Clock
from arrange.score.plucks import plucks, strikes
from arrange.score.reading import Reading
from arrange.units import SECOND, Quarters


def note(pitch: str, divisions: int, inside: str = "", staff: int = 1) -> str:
    step, octave = pitch[0], pitch[-1]
    alter = {"#": "<alter>1</alter>", "b": "<alter>-1</alter>"}.get(pitch[1:-1], "")
    cue = "<cue/>" if inside == "cue" else ""
    signs = inside if inside != "cue" else ""
    return (
        f"<note>{cue}<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>"
        f"<duration>{divisions}</duration><voice>{1 if staff == 1 else 5}</voice>"
        f"<staff>{staff}</staff>"
        + (f"<notations>{signs}</notations>" if signs else "")
        + "</note>"
    )


def words(text: str, place: str = "below", staff: int = 1) -> str:
    return (
        f'<direction placement="{place}"><direction-type><words>{text}</words>'
        f"</direction-type><staff>{staff}</staff></direction>"
    )


def back(divisions: int = 16) -> str:
    return f"<backup><duration>{divisions}</duration></backup>"


def read(*measures: str) -> Score:
    first = (
        "<attributes><divisions>4</divisions><key><fifths>0</fifths></key><time><beats>4</beats>"
        "<beat-type>4</beat-type></time><staves>2</staves></attributes>"
        '<direction><direction-type><words>x</words></direction-type><sound tempo="60"/>'
        "</direction>"
    )
    bodies = "".join(
        f'<measure number="{i + 1}">{first if i == 0 else ""}{body}</measure>'
        for i, body in enumerate(measures)
    )
    text = (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Harp</part-name>'
        f'</score-part></part-list><part id="P1">{bodies}</part></score-partwise>'
    )
    return Reading(Document.read(text.encode(), "made.musicxml")).score()


def line(kind: str, end: str) -> str:
    return f'<glissando line-type="wavy" number="1" type="{end}">{kind}</glissando>'


def tones(score: Score) -> str:
    (sweep,) = score.sweeps
    return " ".join(
        letter + ("#" * alter if alter > 0 else "b" * -alter) for letter, alter in sweep.tones
    )


def test_a_pedal_picture_is_carried_on_and_words_change_it() -> None:
    tuning = (
        "<pedal-tuning><pedal-step>{}</pedal-step><pedal-alter>{}</pedal-alter></pedal-tuning>"
    )
    picture = "".join(
        tuning.format(step, alter)
        for step, alter in zip("DCBEFGA", (0, 0, -1, -1, 0, 0, -1), strict=True)
    )
    score = read(
        "<direction><direction-type><harp-pedals>"
        + picture
        + "</harp-pedals></direction-type></direction>"
        + note("E5", 16) + back() + note("C3", 16, staff=2),
        words("Fa dièse")
        + note("C5", 8, line("gliss.", "stop")) + note("C5", 8)
        + back() + note("C3", 16, line("", "start"), staff=2),
        note("C6", 16, line("", "stop")) + back() + note("C3", 16, staff=2),
    )  # fmt: skip
    (sweep,) = score.sweeps
    assert tones(score) == "C D Eb F# G Ab Bb"
    assert (sweep.from_pedals, str(sweep.start)) == (True, "P1/1/n2")
    assert (str(sweep.end), sweep.until_index, sweep.until_offset) == ("P1/2/n0", 2, Quarters(0))
    assert any("begins nowhere" in finding.text for finding in score.findings)
    kinds = [m.kind for measure in score.parts[0].measures for m in measure.marks]
    assert kinds.count(MarkKind.HARP_PEDALS) == kinds.count(MarkKind.PEDAL_WORDS) == 1


def test_the_row_over_two_lines_and_a_rehearsal_letter_are_told_apart() -> None:
    letter = "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>"
    score = read(
        letter
        + words("E F# G A\nD C B", "above")
        + note("E5", 16)
        + back()
        + note("C3", 16, "", 2)
    )
    marks = {m.text: m for m in score.parts[0].measures[0].marks}
    assert marks["A"].kind is MarkKind.REHEARSAL
    (pedals,) = [m.pedals for m in marks.values() if m.kind is MarkKind.PEDAL_WORDS]
    assert dict(pedals) == dict(zip("EFGADCB", (0, 1, 0, 0, 0, 0, 0), strict=True))


def test_small_notes_under_the_word_spell_the_glissando_and_stay_silent() -> None:
    small = "".join(note(p, 1, "cue") for p in ("D4", "Eb4", "F#4", "G4", "A4", "Bb4"))
    score = read(
        words("gliss.", "above") + note("C4", 12) + note("C6", 4)
        + back(14) + small.replace("<voice>1", "<voice>2")
        + back(8) + note("C3", 16, staff=2)
    )  # fmt: skip
    assert score.sweeps[0].form is SweepForm.FIRST_OCTAVE
    assert tones(score) == "C D Eb F# G A Bb"
    found = plucks(score, score.harps[0])
    assert [str(p.pitch) for p in found] == ["C3", "C4", "C6"]


def test_tremolos_ties_and_repeats_come_out_in_performed_time() -> None:
    tremolo = '<ornaments><tremolo type="single">1</tremolo></ornaments>'
    tied = note("C3", 16, '<tied type="start"/>', 2).replace(
        "<voice>", '<tie type="start"/><voice>'
    )
    arrives = note("C3", 8, '<tied type="stop"/>', 2).replace(
        "<voice>", '<tie type="stop"/><voice>'
    )
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    score = read(
        note("E5", 4, tremolo) + back(4) + tied,
        note("G5", 16) + back() + arrives + repeat,
    )
    found = plucks(score, score.harps[0])
    played = [
        (str(found[s.pluck].pitch), s.time / SECOND, s.end / SECOND)
        for s in strikes(found, Clock(score))
    ]
    once = [("C3", 0, 6), ("E5", 0, 1), ("E5", 0.5, 1), ("G5", 4, 8)]
    assert played == [*once, *((pitch, time + 8, end + 8) for pitch, time, end in once)]
