"""Practice files: read back by two other readers, they hold what is performed."""

import io
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import music21
import pytest
from heard_scores import BACKWARD, GRACE, n, score, sign
from notation import read

import corpus
from arrange.check import HarpInstructions, Instruction, Instructions
from arrange.errors import BadInput
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.report.listening import timeline
from arrange.report.practice_midi import PACES, practice_midi
from arrange.score.document import Document
from arrange.score.model import HandName, Score
from arrange.score.reading import Reading
from arrange.units import Quarters

HARP = load_harp("lever-34").harp
HOME = Path(corpus.__file__).parent
TWO_HANDS = "time=3/4 key=-3 tempo=60\nRH: [rehearsal A] Eb5q F5q G5q | Ab5h.\nLH: Eb3h. | C3h."


def demo(name: str) -> Score:
    path = HOME / f"{name}.musicxml"
    return Reading(Document.read(path.read_bytes(), path.name)).score()


def opened(written: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(written))


def named(midi: mido.MidiFile, name: str) -> list[tuple[int, mido.Message]]:
    """The messages of one track with their ticks."""
    (track,) = (t for t in midi.tracks if t.name == name)
    now, found = 0, []
    for message in track:
        now += message.time
        found.append((now, message))
    return found


def onsets(midi: mido.MidiFile, name: str) -> list[tuple[Any, int]]:
    return [
        (Fraction(tick, midi.ticks_per_beat), message.note)
        for tick, message in named(midi, name)
        if message.type == "note_on" and message.velocity
    ]


def said(midi: mido.MidiFile, kind: str, *fields: str) -> list[tuple[object, ...]]:
    track = midi.tracks[0]
    now, found = 0, []
    for message in track:
        now += message.time
        if message.type == kind:
            beat = Fraction(now, midi.ticks_per_beat)
            found.append((beat, *(getattr(message, field) for field in fields)))
    return found


def test_a_measure_is_counted_in_before_the_first_note() -> None:
    midi = opened(practice_midi(read(TWO_HANDS).score()))
    assert onsets(midi, "Count-in") == [(0, 76), (1, 77), (2, 77)]
    assert {m.channel for _, m in named(midi, "Count-in") if not m.is_meta} == {9}
    assert onsets(midi, "Right hand") == [(3, 75), (4, 77), (5, 79), (6, 80)]
    assert onsets(midi, "Left hand") == [(3, 51), (6, 48)]


def test_before_an_upbeat_what_it_lacks_is_counted_too() -> None:
    midi = opened(practice_midi(score(n("G4", 4), n("C5", 16))))
    assert [beat for beat, _ in onsets(midi, "Count-in")] == list(range(7))
    assert onsets(midi, "Right hand") == [(7, 67), (8, 72)]


@pytest.mark.parametrize(("tempo", "clicks"), [(66, 6), (126, 2)])
def test_slow_beats_of_three_parts_are_counted_in_their_parts(tempo: int, clicks: int) -> None:
    midi = opened(practice_midi(read(f"time=6/8 key=0 tempo={tempo} | C5q. E5q.").score()))
    counted = onsets(midi, "Count-in")
    assert [beat for beat, _ in counted] == [Fraction(3 * i, clicks) for i in range(clicks)]
    assert [note for _, note in counted] == [76] + [77] * (clicks - 1)


def test_the_file_says_meter_key_tempo_harp_and_marks() -> None:
    midi = opened(practice_midi(read(TWO_HANDS).score(), pace=Fraction(3, 5)))
    assert midi.type == 1
    assert said(midi, "time_signature", "numerator", "denominator") == [(0, 3, 4)]
    assert said(midi, "key_signature", "key") == [(0, "Eb")]
    assert said(midi, "set_tempo", "tempo") == [(0, round(1_000_000 / Fraction(3, 5)))]
    assert said(midi, "marker", "text") == [(3, "A")]
    for name in ("Right hand", "Left hand"):
        programs = [m.program for _, m in named(midi, name) if m.type == "program_change"]
        assert programs == [46]


def test_each_hand_can_be_had_alone() -> None:
    found = read(TWO_HANDS).score()
    names = {
        hand: [track.name for track in opened(practice_midi(found, hand)).tracks[1:]]
        for hand in ("both", "right", "left")
    }
    assert names == {
        "both": ["Right hand", "Left hand", "Count-in"],
        "right": ["Right hand", "Count-in"],
        "left": ["Left hand", "Count-in"],
    }


@pytest.mark.parametrize("pace", PACES)
def test_a_slower_pace_takes_as_much_longer(pace: Fraction) -> None:
    found = read(TWO_HANDS).score()
    last = {p: _last_onset_s(opened(practice_midi(found, pace=p))) for p in (pace, Fraction(1))}
    assert last[pace] == pytest.approx(last[Fraction(1)] / float(pace), abs=1e-4)


def _last_onset_s(midi: mido.MidiFile) -> float:
    now, last = 0.0, 0.0
    for message in midi:
        now += message.time
        if message.type == "note_on" and message.velocity:
            last = now
    return last


def test_repeats_and_tempo_changes_are_performed() -> None:
    slower = "<sound tempo='30'/>"
    midi = opened(practice_midi(score(n("C4", 8) + slower + n("D4", 8) + BACKWARD)))
    assert onsets(midi, "Right hand") == [(4, 60), (6, 62), (8, 60), (10, 62)]
    fast, slow = 1_000_000, 2_000_000
    assert said(midi, "set_tempo", "tempo") == [(0, fast), (6, slow), (8, fast), (10, slow)]


def test_small_notes_before_the_first_measure_sound_in_the_counted_one() -> None:
    midi = opened(practice_midi(score(n("D5", before=GRACE) + n("C5", 16))))
    (small, _), (main, _) = onsets(midi, "Right hand")
    assert 3 < small < main == 4


def test_a_key_is_let_go_before_it_is_struck_again() -> None:
    midi = opened(practice_midi(read("tempo=60\nRH: C4q B#3q C4h").score()))
    assert onsets(midi, "Right hand") == [(4, 60), (5, 60), (6, 60)]
    sounding = 0
    for _, message in named(midi, "Right hand"):
        if message.type in ("note_on", "note_off"):
            is_on = message.type == "note_on" and message.velocity > 0
            sounding += 1 if is_on else -1
            assert 0 <= sounding <= 1
    assert sounding == 0


def test_loudness_follows_the_dynamics() -> None:
    soft, loud = (sign(f"<dynamics><{d}/></dynamics>") for d in ("p", "f"))
    midi = opened(practice_midi(score(soft + n("C4", 8) + loud + n("D4", 8))))
    first, second = (
        m.velocity for _, m in named(midi, "Right hand") if m.type == "note_on" and m.velocity
    )
    assert first < second


def test_a_lever_move_is_a_cue_point_in_the_words_of_the_page() -> None:
    found = read("tempo=60\nRH: C5h G4h | C#5w").score()
    setting = {s.name: Position.DOWN for s in HARP.strings if s.raised is not None}
    move = Instruction("P1", "C5", Position.UP, 0, Quarters(3), HandName.LEFT)
    told = Instructions((HarpInstructions(setting, (move,)),))
    midi = opened(practice_midi(found, harp=HARP, instructions=told))
    assert said(midi, "cue_marker", "text") == [(7, "Lever: high C sharp, left hand")]


def test_a_pace_that_does_not_move_is_refused() -> None:
    with pytest.raises(BadInput, match="give a part of the tempo"):
        practice_midi(read(TWO_HANDS).score(), pace=Fraction(0))


@pytest.mark.parametrize("name", ["minuet-da-capo", "nocturne-d-flat", "gigue-long-room"])
def test_onsets_are_those_that_the_page_plays(name: str) -> None:
    found = demo(name)
    first = practice_midi(found)
    assert practice_midi(found) == first
    midi = opened(first)
    now, struck = 0.0, []
    for message in midi:
        now += message.time
        if message.type == "note_on" and message.velocity and message.channel != 9:
            struck.append((now, message.note))
    heard = timeline(found)["plucks"]
    begin = min(time for time, _ in struck) - heard[0][0]
    shown = {(row[3], row[0]) for row in heard}
    times: dict[int, list[float]] = {}
    for midi_number, time in sorted(shown):
        times.setdefault(midi_number, []).append(time)
    assert len(struck) >= len(heard) * 0.98
    for time, key in struck:
        assert min(abs(time - begin - t) for t in times[key]) < 0.004, (time, key)


def test_music21_reads_the_same_onsets() -> None:
    found = demo("lullaby-windy-night")
    written = practice_midi(found, "left")
    whole = music21.midi.translate.midiStringToStream(written, quantizePost=False)
    theirs = {
        (round(Fraction(element.getOffsetInHierarchy(whole)) * 480), note.pitch.midi)
        for part in whole.parts
        for element in part.recurse().notes
        if "Percussion" not in "".join(element.classes) and "Unpitched" not in element.classes
        for note in (element.notes if element.isChord else [element])
    }
    ours = {(round(beat * 480), midi) for beat, midi in onsets(opened(written), "Left hand")}
    assert ours
    assert ours <= theirs
