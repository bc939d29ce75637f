"""What each thing costs, in hundredths of the price of one lever move."""

from dataclasses import dataclass

from arrange.sources import HOUSE_JUDGEMENT, Source

SOURCE: Source = HOUSE_JUDGEMENT
"""All defaults below: a harpist's working prices, none published."""


@dataclass(frozen=True, slots=True)
class PriceList:
    """The prices; whole numbers, hundredths of a move.

    Attributes:
        move: a move; *hurried*: on top, where less than half a second is left in its window;
            *right_hand*, *off_beat*: on top; *connected*: on top, where the hand leaves strings
            that it has placed ahead (0: nobody looks).
        preset: a lever that stands apart from the key signature before the first note.
        doubling, passing, third: a note left out: a doubling; an inner passing note, or a
            fifth or root that sounds elsewhere; a third or a seventh.
        octave: an inner note an octave away; *phrase*: a whole phrase an octave away.
        open: an inner note left to the editor; *open_outer*: a melody note or bass root: never
            to save moves, but rather than losing more than a handful of inner notes.
        respelled: breaks ties in favour of the note as it is spelled.
        semitone, far_semitone: transposing, a semitone up to two, and beyond.
        beyond_four: each semitone beyond four, on request only.
        sign: a sharp or flat of the key signature beyond those that the player reads at ease;
            *unset_letter*: a letter of the
            signature that no lever sets; *crowded*: a move beyond those that the book allows in
            the piece; all three where keys are weighed.
        dry: a melody note above F6.
        sweep_foreign: a foreign string in a glissando; *sweep_rewritten*: one fingered,
            shortened or rolled instead.
    """

    move: int = 100
    hurried: int = 300
    right_hand: int = 50
    off_beat: int = 30
    connected: int = 0
    preset: int = 10
    doubling: int = 100
    passing: int = 200
    third: int = 400
    octave: int = 100
    phrase: int = 150
    open: int = 1_500
    open_outer: int = 3_000
    respelled: int = 1
    semitone: int = 100
    far_semitone: int = 400
    beyond_four: int = 2_000
    sign: int = 50
    unset_letter: int = 3_000
    crowded: int = 100
    dry: int = 20
    sweep_foreign: int = 50
    sweep_rewritten: int = 300
