import pytest
from handmade import Staves

from arrange.pitch import LETTERS, SEMITONES
from arrange.score.model import Mark, MarkKind
from arrange.score.reading.pedals import (
    PedalState,
    WordsPlace,
    classify_words,
    doubt_about,
    judge_words,
    pedals_in,
)
from arrange.units import Quarters

SIGNS = {"b": -1, "n": 0, "#": 1}


def setting(text: str) -> dict[str, int]:
    """``Db C# Bn``: every name with its sign."""
    return {name[0]: SIGNS[name[1]] for name in text.split()}


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("D C B | E F G A", "Dn Cn Bn En Fn Gn An"),
        ("Db C# B | E# F# G Ab", "Db C# Bn E# F# Gn Ab"),
        ("D♮ C♯ B♭ | E♭ F♯ G♮ A♭", "Dn C# Bb Eb F# Gn Ab"),
        ("D\ue261 C\ue262 B\ue260 | E F G A", "Dn C# Bb En Fn Gn An"),
        ("♭D ♮C ♯B", "Db Cn B#"),
        ("E♭ F G A\nD C B♭", "Eb Fn Gn An Dn Cn Bb"),
        ("DbCbBb|EbFbGbAb", "Db Cb Bb Eb Fb Gb Ab"),
        ("DC♯B|E♭FG♯A", "Dn C# Bn Eb Fn G# An"),
        ("d c# bb | e f g ab", "Dn C# Bb En Fn Gn Ab"),
        ("[D, C, B, E♭, F, G, A♭]", "Dn Cn Bn Eb Fn Gn Ab"),
        ("C D E F# G A B", "Cn Dn En F# Gn An Bn"),
        ("D C B", "Dn Cn Bn"),
        ("EFGA", "En Fn Gn An"),
        ("F#", "F#"),
        ("B♭", "Bb"),
        ("F♮", "Fn"),
        ("Fn Cn", "Fn Cn"),
        ("F#\nC#", "F# C#"),
        ("F#, G", "F# Gn"),
        ("C#/F#", "C# F#"),
        ("F sharp", "F#"),
        ("B-flat", "Bb"),
        ("E natural", "En"),
        ("F and C sharp", "F# C#"),
        ("Fa dièse", "F#"),
        ("Si b", "Bb"),
        ("Si♭", "Bb"),
        ("Sib", "Bb"),
        ("Do♯", "C#"),
        ("La bémol, Ré bémol", "Ab Db"),
        ("si bécarre", "Bn"),
        ("Fa diesis", "F#"),
        ("Mi bemolle", "Eb"),
        ("La bequadro", "An"),
        ("Sol sostenido", "G#"),
        ("Fis", "F#"),
        ("Es As B", "Eb Ab Bb"),
        ("Cis, H", "C# Bn"),
        ("F Kreuz", "F#"),
        ("préparez Fa♯", "F#"),
        ("Préparez : fa dièse et do dièse", "F# C#"),
        ("prepare Eb", "Eb"),
        ("set: F#, C#", "F# C#"),
        ("Ped. F#", "F#"),
        ("pedals: D C# B E F# G A", "Dn C# Bn En F# Gn An"),
        ("F to F#", "F#"),
        ("change F natural to F sharp", "F#"),
        ("F♯ → F♮", "Fn"),
    ],
)
def test_pedal_words_are_read_in_their_usual_forms(text: str, means: str) -> None:
    found = pedals_in(text)
    assert found is not None
    assert dict(found) == setting(means)


@pytest.mark.parametrize(
    "text",
    [
        "A", "F", "Fa", "D.C.", "DC", "D.S.", "D.C. al Fine", "FACE", "BAG", "Edge", "Bed", "Add",
        "Am", "C7", "F#m", "F#dim", "G/B", "D/F#", "Bb/D", "C+", "Bb major", "Es-Dur", "in B♭",
        "F sharp minor", "A tempo", "a2", "8va", "mid F#", "Tuning: E flat", "Set levers for G",
        "Ped.", "*", "con Ped.", "si", "la", "as", "des", "es", "Do Re Mi", "A B A", "C C#",
        "C# or Db", "F##", "Bbb", "B section", "Bb Clarinet", "f", "e", "b", "harp", "set",
        "gliss.", "(dis-", "Fa dièse-", "♯", "F# ♯ G", "", " \n",
    ],
)  # fmt: skip
def test_near_misses_set_no_pedal(text: str) -> None:
    assert pedals_in(text) is None


def test_text_pedals_sound_the_six_pitches_of_the_oracle() -> None:
    found = pedals_in("Db C# B | E# F# G Ab")
    assert found is not None
    sounding = [(SEMITONES[LETTERS.index(letter)] + alter) % 12 for letter, alter in found]
    assert sounding == [1, 1, 11, 5, 6, 7, 8]


def kind(text: str, place: WordsPlace, *, rehearsal: bool = False, boxed: bool = False) -> str:
    return classify_words(text, is_rehearsal=rehearsal, is_boxed=boxed, place=place).value


BELOW = WordsPlace(side="below")
ABOVE = WordsPlace(side="above")
UNSAID = WordsPlace()
LOWER_STAFF = WordsPlace(staff=2)
SONG = WordsPlace(has_chord_symbols=True, follows=(("F", 1),))


@pytest.mark.parametrize(
    ("text", "place", "is_pedal"),
    [
        ("F#", BELOW, True),
        ("F#", LOWER_STAFF, True),
        ("F#", WordsPlace(staff=1, staves=1, side="below"), True),
        ("F#", ABOVE, False),
        ("F#", UNSAID, False),
        ("F#", WordsPlace(follows=(("F", 1), ("G", 0))), True),
        ("F#", WordsPlace(follows=(("F", 0),)), False),
        ("F#", SONG, False),
        ("F#", WordsPlace(side="above", neighbours=("E F G A",)), True),
        ("F#", WordsPlace(side="above", neighbours=("B♭",)), False),
        ("Bb", WordsPlace(is_harp=False, side="below"), False),
        ("D C B | E F G A", ABOVE, True),
        ("D C B | E F G A", WordsPlace(is_harp=False), True),
        ("D C Bb", ABOVE, True),
        ("Bb Eb Ab", ABOVE, True),
        ("Fa dièse", ABOVE, True),
        ("préparez F#", ABOVE, True),
        ("A", BELOW, False),
        ("mid F#", BELOW, False),
        ("G7", BELOW, False),
    ],
)
def test_place_number_and_surroundings_tell_pedals_from_other_letters(
    text: str,
    place: WordsPlace,
    is_pedal: bool,  # noqa: FBT001
) -> None:
    assert kind(text, place) == ("pedal-words" if is_pedal else "words")


def test_single_names_in_words_of_their_own_make_a_row_together() -> None:
    row = ("D", "C♯", "B", "E♭", "F", "G", "A")
    for i, name in enumerate(row):
        beside = WordsPlace(side="above", neighbours=(*row[:i], *row[i + 1 :], "dolce"))
        assert kind(name, beside) == "pedal-words"
    assert kind("B", WordsPlace(side="below", neighbours=("D", "C"))) == "pedal-words"
    assert kind("B", WordsPlace(side="above", neighbours=("D", "C"))) == "words"
    assert kind("B", WordsPlace(side="below", neighbours=("D", "A"))) == "words"


def test_a_rehearsal_letter_stays_one_but_a_row_called_rehearsal_is_pedals() -> None:
    assert kind("A", ABOVE, rehearsal=True, boxed=True) == "rehearsal"
    assert kind("F#", ABOVE, rehearsal=True) == "rehearsal"
    assert kind("D C B | E F G A", ABOVE, rehearsal=True, boxed=True) == "pedal-words"
    assert kind("F#", BELOW, boxed=True) == "pedal-words"


def test_what_stays_in_doubt_is_said_and_what_is_plain_is_not() -> None:
    def doubt(text: str, place: WordsPlace, *, boxed: bool = False) -> str:
        return doubt_about(text, is_rehearsal=False, is_boxed=boxed, place=place)

    assert "'F#' may be a pedal mark" in doubt("F#", ABOVE)
    assert "'A' may be a pedal mark" in doubt("A", BELOW)
    assert "among other things" in doubt("dolce, una corda", ABOVE)
    assert doubt("A", BELOW, boxed=True) == ""
    assert doubt("F#", BELOW) == doubt("dolce", BELOW) == doubt("A", ABOVE) == ""


PIANO_WORDS = (
    "Ped.|Ped|*|\ue650|\ue655|una corda|tre corde|u.c.|con pedale|con Ped.|senza ped.|1 corda|"
    "sempre con Ped.|Ped. simile|sustain|with pedal|mit Pedal|avec pédale|damper pedal"
)
OTHER_WORDS = (
    "dolce, una corda|pedal harp|pedal gliss.|senza gliss.|sans étouffer|do not damp|mit Dämpfer|"
    "con sordino|laissez vibrer|l.v.|recitativo secco|dolce|près de la table"
)


@pytest.mark.parametrize(
    ("expected", "texts"),
    [
        ("piano-words", PIANO_WORDS),
        ("glissando-words", "gliss.|Gliss|glis.|glissando|glissando près de la table"),
        ("damp", "étouffez|étouffé|sons étouffés|damp|muffle|abdämpfen|soffocato|secco|sec.|ét."),
        ("damp-all", "étouffez tout|damp all|alles dämpfen"),
        ("words", OTHER_WORDS),
    ],
)
def test_piano_glissando_and_damping_words_are_told_from_the_rest(
    expected: str, texts: str
) -> None:
    found = {text: kind(text, UNSAID) for text in texts.split("|")}
    assert found == dict.fromkeys(texts.split("|"), expected)


def test_glissando_words_keep_the_scale_that_they_spell() -> None:
    reading = judge_words(
        "gliss. C D E F# G A Bb", is_rehearsal=False, is_boxed=False, place=ABOVE
    )
    assert dict(reading.pedals) == setting("Cn Dn En F# Gn An Bb")


def test_a_row_beside_the_name_of_its_scale_is_a_pedal_mark() -> None:
    def judged(text: str) -> tuple[MarkKind, dict[str, int]]:
        reading = judge_words(text, is_rehearsal=False, is_boxed=False, place=ABOVE)
        return reading.kind, dict(reading.pedals)

    row = setting("D# Cn B# Eb F# Gb An")
    assert judged("D# C B# | Eb F# Gb A\nscale of the seventh") == (MarkKind.PEDAL_WORDS, row)
    assert judged("D# C B# | Eb F# Gb A\ndolce") == (MarkKind.WORDS, {})
    assert judged("C D E F G A B\nthe scale of C major") == (MarkKind.WORDS, {})


def marks() -> tuple[Mark, ...]:
    staves = Staves().mark(MarkKind.HARP_PEDALS, "D C B♭ | E♭ F G A♭")
    staves.mark(MarkKind.WORDS, "G♯", 1).measure()
    staves.mark(MarkKind.PEDAL_WORDS, "F#", 2).mark(MarkKind.PEDAL_WORDS, "C#", 2, staff=2)
    return tuple(mark for measure in staves.made().measures for mark in measure.marks)


def test_a_full_mark_is_carried_forward_and_partial_ones_merge_into_it() -> None:
    state = PedalState.of_marks(reversed(marks()))
    first = setting("Dn Cn Bb Eb Fn Gn Ab")
    assert state.setting_at(0, Quarters(0)) == first
    assert state.setting_at(1, Quarters(3, 2)) == first
    assert state.setting_at(1, Quarters(2)) == first | {"F": 1, "C": 1}
    assert state.setting_at(9, Quarters(0)) == first | {"F": 1, "C": 1}


def test_before_the_first_mark_nothing_is_known_and_a_caller_changes_only_its_copy() -> None:
    state = PedalState.of_marks(marks()[2:])
    assert state.setting_at(1, Quarters(1)) == {}
    state.setting_at(2, Quarters(0))["F"] = 0
    assert state.setting_at(2, Quarters(0)) == {"F": 1, "C": 1}
