"""Lessons of demo scores and of scores in a few words, each made once."""

from functools import cache
from pathlib import Path

import notation

import corpus
from arrange.check import from_page
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert
from arrange.registry import installed
from arrange.rulebook import RuleBook, load_rulebook
from arrange.score.opening import open_score
from arrange.teach import Lesson, lesson
from arrange.teach.piece import Piece, piece_of

SCORES = Path(corpus.__file__).parent
HARP = load_harp("lever-34").harp


@cache
def book() -> RuleBook:
    """The concert book."""
    return load_rulebook("concert", installed())


@cache
def converted(name: str) -> Conversion:
    """A demo score for the usual harp."""
    return convert(open_score(SCORES / f"{name}.musicxml"), Settings(HARP, book()))


@cache
def lesson_of(name: str) -> Lesson:
    """The lesson of a demo score's result, with its change log."""
    made = converted(name)
    return lesson(made.score, HARP, book().player, made.instructions, made.log)


def piece_in_short(text: str) -> Piece:
    """A piece in the short notation."""
    score = notation.read(text).score()
    return piece_of(score, HARP, book().player, from_page(score, HARP))


def short_lesson(text: str) -> Lesson:
    """The lesson of a piece in the short notation, which is none of our results."""
    piece = piece_in_short(text)
    return lesson(piece.score, HARP, book().player, piece.instructions)
