"""Moves whole parts by an interval: notes, keys, chord symbols, figures, and the signs shown."""

import re
from collections.abc import Iterator

from arrange.apply import accidentals
from arrange.apply.moved_keys import give_first_key, move_key
from arrange.apply.moved_symbols import move_figures, move_harmony, move_marks
from arrange.apply.moving import Habit, Mover
from arrange.apply.neighbours import distances, keep_neighbours
from arrange.apply.printed import (
    ALL_STAVES,
    PrintedMeasure,
    measure_number,
    part_measures,
    printed_part,
)
from arrange.apply.signatures import alter_of, signature, wrapped
from arrange.apply.stems import shift_positions, stem_anew, stems_by_rule
from arrange.pitch import UNISON, Interval
from arrange.score.document import Document, Node
from arrange.score.model import Finding

_LETTER = r"(?:[A-H](?:es|is|s|[ -]?(?:flat|sharp|#|b|♯|♭))?)"
_SYLLABLE = r"(?:(?:do|ut|r[eé]|mi|fa|sol|la|si)(?:[ -](?:b[eé]mol|di[eè]se|bemolle|diesis))?)"
_MODE = r"(?:major|minor|dur|moll|majeur|mineur|maggiore|minore|mayor|menor)"
_KEY_WORDS = re.compile(
    rf"\b(?:{_LETTER}|{_SYLLABLE})[ -]{_MODE}\b"
    rf"|\b[Kk]ey(?: of|:) *{_LETTER}(?!\w)"
    rf"|\b[Ii]n {_LETTER}[ .,;)]*$"
)


def transpose(
    document: Document, parts: tuple[str, ...], interval: Interval
) -> tuple[Finding, ...]:
    """Move these parts by the interval, never respelled.

    Returns:
        What names the old key and cannot follow.
    """
    if interval == UNISON:
        return ()
    findings = [finding for part in parts for finding in _move_part(document, part, interval)]
    return (*_titles(document), *findings)


def _move_part(document: Document, part: str, interval: Interval) -> Iterator[Finding]:
    measures = list(printed_part(part_measures(document, part)))
    mover = Mover(document, interval)
    mover.habit = Habit.of(measures)
    if any(note.pitch is not None for measure in measures for note in measure.notes):
        give_first_key(mover, measures[0])
    keys = {ALL_STAVES: signature(wrapped(interval.fifths))}
    told = set()
    for measure in measures:
        before = accidentals.remembered(measure)
        ornaments = {n.node: distances(n, key) for n, key in accidentals.with_signs(measure)}
        stems = stems_by_rule(measure)
        for trouble in (*_move_beside(mover, measure), *_move_notes(mover, measure)):
            if trouble not in told:
                told.add(trouble)
                yield Finding(trouble, part, measure.index, measure_number(measure.node))
        keys = measure.reread_keys(keys)
        accidentals.settle(document, measure, before)
        for note, key in accidentals.with_signs(measure):
            keep_neighbours(document, note, key, ornaments[note.node])
        for note in measure.notes:
            if note.pitch is not None:
                shift_positions(document, note, interval.steps)
        stem_anew(document, measure, stems)


def _move_beside(mover: Mover, measure: PrintedMeasure) -> Iterator[str]:
    """Move what stands beside the notes, while these have not moved yet."""
    for _, node in measure.beside:
        if node.tag == "harmony":
            yield from move_harmony(mover, node)
        elif node.tag == "figured-bass":
            yield from move_figures(mover, node, measure)
        else:
            yield from _words(node)
    for _, key in measure.key_nodes:
        trouble = move_key(mover, key)
        if trouble:
            yield trouble


def _move_notes(mover: Mover, measure: PrintedMeasure) -> Iterator[str]:
    for note in measure.notes:
        if note.has_marks:
            yield from move_marks(mover, note)
        if note.has_frets and note.pitch is not None:
            yield "the strings or frets that notes name are those of the old key and stay"
        mover.note(note)
    for pitch in measure.unreadable:
        if alter_of(pitch.child_text("alter", "0")) is None:
            yield f"an alteration of {pitch.child_text('alter')!r} is no number; it counts as none"
        else:
            yield "a note without a readable step and octave was not moved"


def _words(direction: Node) -> Iterator[str]:
    for kind in direction.find_all("direction-type"):
        for sign in kind.children:
            if sign.tag == "words" and _KEY_WORDS.search(sign.text.strip()):
                yield f"the words {sign.text.strip()!r} name the old key and stay"
            elif sign.tag == "scordatura":
                yield "a table of tunings shows the old pitches and stays"


def _titles(document: Document) -> Iterator[Finding]:
    """Findings for titles that name the key."""
    told = set()
    for node in document.root.children:
        if node.tag in ("part-list", "part", "measure"):
            return
        for words in node.iter():
            text = words.text.strip()
            is_title = words.tag in ("work-title", "movement-title", "credit-words")
            if is_title and text not in told and _KEY_WORDS.search(text):
                told.add(text)
                yield Finding(f"the title {text!r} names the old key and stays")
