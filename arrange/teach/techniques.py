"""What a piece asks of the hands beside plain notes: where it occurs, what its sign means."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from arrange.hands.fingering import Fingered, Joining
from arrange.report.listening.touches import Touch, Touches
from arrange.score.model import HandName, MarkKind, Note, Sign
from arrange.sources import COMMON_PRACTICE, Source
from arrange.teach.piece import Piece
from arrange.teach.words import span_text

SOURCE: Source = COMMON_PRACTICE
"""What signs mean and ask of the hand."""
OCTAVE_LINES = 7
MOST = 8
"""So many stretches of measures are named (house judgement)."""


@dataclass(frozen=True, slots=True)
class Technique:
    """Something that the hands do.

    Attributes:
        name: what it is called; *where*: its measures, in words.
        means: the sign and what it stands for; *asks*: what the hand does.
        indices: the measures.
    """

    name: str
    where: str
    means: str
    asks: str
    indices: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Known:
    """A technique as it is taught, and how its measures are found."""

    name: str
    means: str
    asks: str
    places: Callable[[Piece], Iterator[int]]


def techniques(piece: Piece) -> tuple[Technique, ...]:
    """Return the techniques that a piece asks for, those of the sound first."""
    found = []
    for known in _KNOWN:
        indices = tuple(sorted(set(known.places(piece))))
        if indices:
            where = span_text(piece.measures, indices, MOST)
            found.append(Technique(known.name, where, known.means, known.asks, indices))
    return tuple(found)


def _notes(piece: Piece) -> Iterator[Note]:
    for name in dict.fromkeys(staff.part for staff in piece.staves):
        for measure in piece.score.by_part[name].measures:
            yield from (note for note in measure.notes if not note.is_cue)


def _signed(*signs: Sign) -> Callable[[Piece], Iterator[int]]:
    def places(piece: Piece) -> Iterator[int]:
        for note in _notes(piece):
            if note.notations and any(note.has(sign) for sign in signs):
                yield note.id.index

    return places


def _marked(kind: MarkKind) -> Callable[[Piece], Iterator[int]]:
    def places(piece: Piece) -> Iterator[int]:
        for name in dict.fromkeys(staff.part for staff in piece.staves):
            for measure in piece.score.by_part[name].measures:
                yield from (m.id.index for m in measure.marks if m.kind is kind)

    return places


def _damped(piece: Piece) -> Iterator[int]:
    yield from _marked(MarkKind.DAMP)(piece)
    yield from (p.index for p in piece.printed if p.is_damped)


def _near_the_board(piece: Piece) -> Iterator[int]:
    touches = Touches(piece.score)
    for note in _notes(piece):
        if touches.of(note, note.id.index, note.offset, is_damped=False) is Touch.TABLE:
            yield note.id.index


def _glissandi(piece: Piece) -> Iterator[int]:
    yield from (sweep.begin.index for sweep in piece.sweeps)


def _graces(piece: Piece) -> Iterator[int]:
    yield from (note.id.index for note in _notes(piece) if note.is_grace)


def _fingered(piece: Piece) -> Iterator[Fingered]:
    """What is plucked without a note that is left open."""
    for hand in HandName:
        for one in piece.handfuls(hand):
            if piece.open.isdisjoint(note.id for note in one.handful.notes):
                yield one


def _octaves(piece: Piece) -> Iterator[int]:
    for one in _fingered(piece):
        if len(one.lines) == 2 and one.lines[1] - one.lines[0] == OCTAVE_LINES:
            yield one.handful.index


def _full_chords(piece: Piece) -> Iterator[int]:
    yield from (one.handful.index for one in _fingered(piece) if len(one.lines) == 4)


def _joined(*ways: Joining) -> Callable[[Piece], Iterator[int]]:
    def places(piece: Piece) -> Iterator[int]:
        yield from (one.handful.index for one in _fingered(piece) if one.joining in ways)

    return places


def _same_string(piece: Piece) -> Iterator[int]:
    """One string again and again in one hand."""
    for hand in HandName:
        for one, two in pairwise(piece.handfuls(hand)):
            is_single = len(one.lines) == 1
            if is_single and one.lines == two.lines and not two.handful.step.is_fresh:
                yield two.handful.index


def _crossed_hands(piece: Piece) -> Iterator[int]:
    """The left hand plays above the right, struck together."""
    lowest = {
        (one.handful.index, one.handful.offset): one.lines[0]
        for one in piece.handfuls(HandName.RIGHT)
    }
    for one in piece.handfuls(HandName.LEFT):
        other = lowest.get((one.handful.index, one.handful.offset))
        if other is not None and one.lines[-1] > other:
            yield one.handful.index


def _taken_over(piece: Piece) -> Iterator[int]:
    parts = {staff.part for staff in piece.staves}
    yield from (event.index for event, _ in piece.score.reassigned if event.part in parts)


def _moves(piece: Piece) -> Iterator[int]:
    yield from (move.index for move in piece.told.moves)


_KNOWN = (
    _Known(
        "Lever moves",
        "the words between the staves name the new note",
        "a hand leaves the strings, flicks the lever, comes back: learn it as part of the rhythm",
        _moves,
    ),
    _Known(
        "Glissandi",
        "a line from note to note",
        "a finger slides up, the thumb down, counted and even, to end on its beat; damp before a "
        "lever moves afterwards",
        _glissandi,
    ),
    _Known(
        "Harmonics",
        "a small circle: the string sounds an octave higher",
        "stop the middle of the string (left: side of the hand; right: bent second finger), "
        "pluck above it with the thumb, let go at once; a raised lever moves the middle a little "
        "towards the soundboard",
        _signed(Sign.HARMONIC),
    ),
    _Known(
        "Rolled chords",
        "a wavy line: one string after the other, from the bottom unless an arrow points down",
        "place the whole chord before the first string sounds; choose once whether the first or "
        "the last note is on the beat",
        _signed(Sign.ARPEGGIATE),
    ),
    _Known(
        "Flat chords",
        "a bracket: all strings at once",
        "squeeze all fingers into the palm together",
        _signed(Sign.NON_ARPEGGIATE),
    ),
    _Known(
        "Chords of four",
        "four strings in one hand",
        "thumb and bottom first, then the two between; wrist low, thumb high",
        _full_chords,
    ),
    _Known(
        "Octaves",
        "eight strings from end to end in one hand",
        "keep the frame of the hand from one octave to the next; the thumb leads",
        _octaves,
    ),
    _Known(
        "Crossing under and over",
        "where one bracket meets the next in a scale",
        "up: a finger, mostly the fourth, goes under the thumb before the thumb plays; down: the "
        "thumb goes over before the lowest finger plays",
        _joined(Joining.UNDER, Joining.OVER),
    ),
    _Known(
        "Sliding",
        "one finger on two neighbouring strings",
        "the thumb slides down, the fourth finger up, in one gesture",
        _joined(Joining.SLIDE),
    ),
    _Known(
        "Repeated notes",
        "one string again",
        "the next finger stops the string as it is placed: place late, so that it rings on",
        _same_string,
    ),
    _Known(
        "Trills, mordents, turns",
        "the signs above the note",
        "neighbouring strings, fingers close, the levers of all of them set before; set the pace "
        "in counted notes first, then let go",
        _signed(Sign.TRILL, Sign.TURN, Sign.INVERTED_TURN, Sign.MORDENT, Sign.INVERTED_MORDENT),
    ),
    _Known(
        "Grace notes",
        "small notes",
        "place them together with the note that they lead to, as one group",
        _graces,
    ),
    _Known(
        "Tremolo",
        "bars through the stem",
        "fast, even alternation, soft and close to the strings",
        _signed(Sign.TREMOLO),
    ),
    _Known(
        "Damped notes",
        "a crossed circle, the word étouffé, or a dot",
        "pluck with the thumb and lay the hand flat against the string when its time is over",
        _damped,
    ),
    _Known(
        "Damp everything",
        "the damping sign between the staves",
        "lay both hands flat on the strings, from the middle outwards",
        _marked(MarkKind.DAMP_ALL),
    ),
    _Known(
        "Let ring",
        "open ties, or l.v.",
        "do not come back to these strings: leave them alone until they fade",
        _signed(Sign.LET_RING),
    ),
    _Known(
        "Near the soundboard",
        "près de la table, p.d.l.t., until ord.",
        "the hand goes down the string to the board; the sound is thin and bright",
        _near_the_board,
    ),
    _Known(
        "Hands crossing",
        "the left hand plays above the right",
        "decide which hand is in front, and move the arm, not the shoulder",
        _crossed_hands,
    ),
    _Known(
        "A note for the other hand",
        "L.H. or R.H. at a note of the other staff",
        "mark it in colour; learn it with the hand that really plays it",
        _taken_over,
    ),
)
