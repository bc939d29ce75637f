"""What is left to the editor, and what follows from it for the rest."""

import notation as short

from arrange.changes import Change
from arrange.edits import AddWords
from arrange.hands.player import Player
from arrange.hands.windows import grasps
from arrange.harp.files import load_harp
from arrange.pitch import Pitch
from arrange.score.document import Document
from arrange.score.model import EventId, HandName, Score
from arrange.score.performed import Clock
from arrange.score.plucks import plucks, strikes
from arrange.score.reading.reading import Reading
from arrange.study.leaving_open import LeftOpen, OpenNotes, idle_words, restored
from arrange.study.openpoints import WideChord, open_notes
from arrange.study.prices import PriceList
from arrange.study.terms import Terms
from rules.mark_open_points import MarkOpenPoints

HARP = load_harp("lever-34").harp
TERMS = Terms(HARP, Player(), PriceList())


def read(text: str) -> Score:
    return Reading(Document.read(short.to_musicxml(text), "example.musicxml")).score()


def named(score: Score, pitch: str) -> EventId:
    return next(i for i, n in score.notes_by_id.items() if str(n.pitch) == pitch)


def test_a_note_that_stands_elsewhere_again_is_not_the_other_hand_s_any_more() -> None:
    score = read('RH: C5w\nLH: "R.H."#leverwright.take-right.1.B4 C3+B4w')
    note = named(score, "B4")
    assert dict(score.reassigned)[note] is HandName.RIGHT
    left = LeftOpen(score, {note: Pitch.parse("B1")})
    marked = list(left.leave((note,), ("It is too low.", ())))
    standing = left.standing()
    assert note in standing.left_open
    assert standing.reassigned == ()
    assert str(standing.notes_by_id[note].pitch) == "B1"
    (words,) = idle_words(score, marked[0].restored, set())
    assert words.text == "R.H."


def test_words_for_a_hand_stay_while_they_speak_of_another_note() -> None:
    score = read('RH: C5w\nLH: "R.H."#leverwright.take-right.1.G4-B4 C3+G4+B4w')
    low, high = (score.notes_by_id[named(score, name)] for name in ("G4", "B4"))
    left = LeftOpen(score, {low.id: Pitch.parse("G1"), high.id: Pitch.parse("B1")})
    gone = [one for n in (low, high) for one in left.leave((n.id,), ("It is too low.", ()))]
    moved: set[EventId] = set()
    assert list(idle_words(score, gone[0].restored, moved)) == []
    assert len(list(idle_words(score, gone[1].restored, moved))) == 1
    assert list(restored(score, (low, high))) == []


def test_what_is_left_to_the_editor_keeps_no_hand_busy() -> None:
    plain = read("RH: C5w\nLH: C3h C3h")
    left = read('RH: C5w\nLH: C3h "?"#leverwright.open.1.C3 C3h')
    counts = []
    for score in (plain, left):
        printed = plucks(score, score.harps[0])
        held = grasps(score, printed, strikes(printed, Clock(score)))
        counts.append(len(held[HandName.LEFT]))
    assert counts == [2, 1]


def test_a_goal_that_is_left_open_opens_the_glissando_with_all_that_is_tied_to_it() -> None:
    score = read("key=-3 tempo=60 | C4q~ C4q(gliss) C8h(gliss-end)")
    found = [one for one in open_notes(score, TERMS) if isinstance(one, OpenNotes)]
    assert [str(n.pitch) for one in found for n in one.notes] == ["C8", "C4", "C4"]


def test_a_chord_is_rolled_once_however_often_everything_is_asked() -> None:
    score = read("key=-3 tempo=60\nRH: C8q rq rh\nLH: C3+G3+C4+F4w")
    found = list(open_notes(score, TERMS))
    assert [type(one) for one in found] == [OpenNotes, WideChord]
    rolled = next(one for one in found if isinstance(one, WideChord))
    assert [str(n.pitch) for n in rolled.notes] == ["C3", "G3", "C4", "F4"]


def test_a_new_mark_takes_the_next_number_after_those_of_open_notes() -> None:
    score = read('key=0 | "?"#leverwright.open.3.C7 C7q G6q C7h')
    made = [p for p in MarkOpenPoints().propose(score, HARP, Player()) if isinstance(p, Change)]
    (words,) = [e for change in made for e in change.edits if isinstance(e, AddWords)]
    assert words.own.startswith("leverwright.open.4.")
