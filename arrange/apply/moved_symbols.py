"""Chord symbols, figures and the accidentals of ornaments, in a part that moves."""

import re

from arrange.apply.moving import Mover
from arrange.apply.neighbours import neighbours
from arrange.apply.printed import PrintedMeasure, PrintedNote, key_on
from arrange.apply.signatures import MEANING_OF, SIGN_OF, Alter, Alters, added, wrapped
from arrange.score.document import Node

_SPELLED = re.compile(r"([A-Ga-g])([#♯]*|[b♭]*)")
_WORD_AFTER = re.compile(r"(im|om|ug|dd|lt)", re.IGNORECASE)
_RAISED = {"#": "#", "♯": "♯", "b": "#", "♭": "♯"}
_LOWERED = {"#": "b", "♯": "♭", "b": "b", "♭": "♭"}


def move_harmony(mover: Mover, harmony: Node) -> list[str]:
    """Move a chord symbol; sentences say what of it could not follow."""
    troubles = []
    names: tuple[str, str] | None = None
    for child in harmony.children:
        if child.tag in ("root", "bass"):
            step = child.find(f"{child.tag}-step")
            moved = None if step is None else mover.letter(child, step, f"{child.tag}-alter")
            if step is None or moved is None:
                troubles.append(f"a chord symbol's {child.tag} is no pitch and stays as it is")
                continue
            names = moved if child.tag == "root" else names
            troubles += _respell_text(mover, step, moved)
        elif child.tag == "numeral":
            _move_numeral(mover, child)
        elif child.tag == "kind" and names is not None:
            _respell_kind(mover, child, names)
        elif child.tag == "frame":
            troubles.append("a chord diagram shows the old chord and stays as it is")
    return troubles


def _respell_text(mover: Mover, step: Node, names: tuple[str, str]) -> list[str]:
    """Move the words that a symbol shows in place of its letter."""
    text = step.attrs.get("text", "")
    if not text:
        return []
    match = _SPELLED.fullmatch(text)
    if match is None or match[1].upper() != names[0][0]:
        return [f"a chord symbol shows {text!r} for {names[0]}, which is now {names[1]}"]
    shown = _in_style(names[1], text) if match[2] or len(names[0]) == 1 else names[1][0]
    mover.document.set_attribute(step, "text", shown.lower() if text.islower() else shown)
    return []


def _respell_kind(mover: Mover, kind: Node, names: tuple[str, str]) -> None:
    """Move a root that the words of the chord's kind spell out (``F#m7``)."""
    text = kind.attrs.get("text", "")
    match = _SPELLED.match(text)
    if match is None or match[0].replace("♯", "#").replace("♭", "b") != names[0]:
        return
    rest = text[match.end() :]
    if _WORD_AFTER.match(rest):
        return
    mover.document.set_attribute(kind, "text", _in_style(names[1], text) + rest)


def _in_style(name: str, text: str) -> str:
    """Write ``Bb`` with the kind of signs that *text* uses."""
    sign = next((s for s in text[1:] if s in _RAISED), "♯")
    return name[0] + name[1:].replace("#", _RAISED[sign]).replace("b", _LOWERED[sign])


def _move_numeral(mover: Mover, numeral: Node) -> None:
    for key in numeral.find_all("numeral-key"):
        fifths = key.find("numeral-fifths")
        if fifths is not None and fifths.text.strip().lstrip("+-").isdecimal():
            far = wrapped(int(fifths.text) + mover.interval.fifths)
            mover.document.set_text(fifths, str(far))


def move_figures(mover: Mover, figures: Node, measure: PrintedMeasure) -> list[str]:
    """Move the signs of a figured bass; the measure's notes must not have moved yet."""
    bass = _bass_of(figures, measure)
    if bass is None:
        return ["a figured bass without a bass note keeps its signs"]
    keys = measure.keys
    for place, staff, alters in measure.key_changes:
        if place <= bass.onset:
            keys = {**keys, staff: alters} if staff else {0: alters}
    signature = key_on(keys, bass.staff)
    troubles = []
    for figure in figures.find_all("figure"):
        number = figure.child_text("figure-number", "3")
        if not number.isdecimal():
            continue
        line = bass.line + int(number) - 1
        for sign in figure.children:
            if sign.tag in ("prefix", "suffix"):
                troubles += _move_sign(mover, sign, line, _in_key(sign, line, signature))
    return troubles


def _bass_of(figures: Node, measure: PrintedMeasure) -> PrintedNote | None:
    behind = False
    notes = {note.node: note for note in measure.notes}
    for child in measure.node.children:
        behind |= child is figures
        note = notes.get(child) if behind else None
        if note is not None and note.pitch is not None and not (note.is_grace or note.is_chord):
            return note
    return None


def _in_key(sign: Node, line: int, signature: Alters) -> Alter | None:
    """What a figure's sign means: a pitch, or a half step from what the key has."""
    alter = MEANING_OF.get(sign.text.strip())
    key = signature[line % 7]
    if alter is not None and abs(alter - key) == 2:
        return added(key, 1 if alter > key else -1)
    return alter


def _move_sign(mover: Mover, sign: Node, line: int, alter: Alter | None) -> list[str]:
    """Write what an accidental at diatonic place *line* is called after the move."""
    if alter is None:
        return []
    moved = mover.place(line, alter)[1]
    name = SIGN_OF.get(moved)
    if name is None:
        return [f"the sign {sign.text.strip()!r} has no counterpart in the new key"]
    if moved != MEANING_OF.get(sign.text.strip()):
        mover.document.set_text(sign, name)
    return []


def move_marks(mover: Mover, note: PrintedNote) -> list[str]:
    """Move the accidentals that a note's ornaments show; the note must not have moved yet."""
    troubles = []
    for found in neighbours(note):
        if found.mark is None:
            continue
        alter = MEANING_OF.get(found.mark.text.strip())
        if alter is None:
            troubles.append(f"an ornament's sign {found.mark.text.strip()!r} stays as it is")
        troubles += _move_sign(mover, found.mark, note.line + found.side, alter)
    return troubles
