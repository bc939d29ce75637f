"""A lesson: all that is said about one piece on one harp, for one player."""

from dataclasses import dataclass

from arrange.changes import ChangeLog
from arrange.check import Instructions, Violation, check
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.score.model import Score
from arrange.score.own import FIELD_PREFIX
from arrange.teach.chords import SureChord, sure_chords
from arrange.teach.form import Form, form
from arrange.teach.gestures import Gesture, gestures
from arrange.teach.hard import HardPlace, hard_places
from arrange.teach.ideas import Idea, bare_stretches, repeats
from arrange.teach.melody import MelodyMeasure, melody_measures
from arrange.teach.piece import Piece, piece_of
from arrange.teach.setting import Key, Restart, key_of, restarts
from arrange.teach.sweeping import Glissando, glissandi
from arrange.teach.techniques import Technique, techniques


@dataclass(frozen=True, eq=False)
class Lesson:
    """What is said about a piece.

    Attributes:
        piece: the music, the harp, the hands.
        is_ours: the page says how the levers stand; else they are taken as set once.
        missing: what cannot be played as it stands.
        key: None where the signature has no name.
        hard: hardest first; everything else in the order of the piece.
        has_log: the change log of the conversion was at hand.
    """

    piece: Piece
    is_ours: bool
    missing: tuple[Violation, ...]
    form: Form
    key: Key | None
    restarts: tuple[Restart, ...]
    chords: tuple[SureChord, ...]
    melody: tuple[MelodyMeasure, ...]
    techniques: tuple[Technique, ...]
    hard: tuple[HardPlace, ...]
    gestures: tuple[Gesture, ...]
    glissandi: tuple[Glissando, ...]
    repeats: tuple[Idea, ...]
    bare: tuple[Idea, ...]
    has_log: bool


def lesson(
    score: Score,
    harp: Harp,
    player: Player,
    instructions: Instructions,
    log: ChangeLog | None = None,
) -> Lesson:
    """Return the lesson of a score's first harp.

    Args:
        score: read from its bytes.
        harp: that it is played on.
        player: whose hands play it.
        instructions: what the page says about the levers.
        log: of the conversion that made the score, where it is at hand.
    """
    piece = piece_of(score, harp, player, instructions)
    found = form(piece)
    key = key_of(piece)
    chords = sure_chords(piece)
    ways = gestures(piece)
    return Lesson(
        piece=piece,
        is_ours=f"{FIELD_PREFIX}harp" in score.own,
        missing=check(score, harp, player, instructions),
        form=found,
        key=key,
        restarts=tuple(restarts(piece, found)),
        chords=chords,
        melody=melody_measures(piece, chords),
        techniques=techniques(piece),
        hard=hard_places(piece, ways),
        gestures=ways,
        glissandi=glissandi(piece, log),
        repeats=tuple(repeats(piece, found, None if key is None else key.tonic)),
        bare=tuple(bare_stretches(piece, chords)),
        has_log=log is not None,
    )
