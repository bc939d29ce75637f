"""Note elements that have found their time, to notes and rests."""

from arrange.pitch import UNISON, Pitch
from arrange.score.model import EventId, Notation, Note, Rest
from arrange.score.nodes import Node
from arrange.score.reading.notations import ornament_signs, sign_nodes
from arrange.score.reading.pitches import (
    ACCIDENTALS,
    WrittenPitch,
    auxiliaries,
    sounding,
    written_pitch,
)
from arrange.score.reading.running import Running, Timed, transposition_of

_SMALL = ("cue", "grace-cue")
_NO_TIES = (False, False)


def read_notes(running: Running) -> tuple[tuple[Note, ...], tuple[Rest, ...]]:
    """Return the notes and rests of the measure, in document order."""
    notes: list[Note] = []
    rests: list[Rest] = []
    for timed in running.timed:
        pitch = timed.found.get("pitch")
        if pitch is not None:
            if "rest" in timed.found:
                raise running.place.bad("a note has a pitch and is a rest at once; delete one")
            notes.append(_note(timed, pitch, running))
        elif "rest" in timed.found:
            rests.append(_rest(timed, running))
    return tuple(notes), tuple(rests)


def _rest(timed: Timed, running: Running) -> Rest:
    place = running.place
    whole = timed.found["rest"].attrs.get("measure") == "yes"
    return Rest(
        EventId(place.part, place.index, timed.key),
        timed.start,
        timed.duration,
        timed.staff,
        timed.voice,
        whole,
    )


def _note(timed: Timed, node: Node, running: Running) -> Note:
    found, place = timed.found, running.place
    written = _written(node, found, running)
    pitch = written.pitch
    move = UNISON
    if timed.transpositions:
        move = transposition_of(timed.transpositions, timed.staff)
        pitch = sounding(pitch, move)
    event = EventId(place.part, place.index, timed.key)
    notations: tuple[Notation, ...] = ()
    extra: tuple[Pitch, ...] = ()
    arrives, leaves = _NO_TIES
    if "notations" in found or "tie" in found:
        whole = _parent(found)
        arrives, leaves = _ties(whole)
        if "notations" in found:
            notations = tuple(notation for notation, _ in sign_nodes(whole))
            extra = _neighbours(notations, written.pitch, timed, running)
            if move is not UNISON:
                extra = tuple(sounding(p, move) for p in extra)
    return Note(
        event,
        timed.start,
        timed.duration,
        timed.staff,
        timed.voice,
        pitch,
        _chord(timed, event),
        timed.is_grace,
        _is_small(found),
        arrives,
        leaves,
        notations,
        extra,
        written.is_microtone,
        "lyric" in found,
    )


def _parent(found: dict[str, Node]) -> Node:
    parent = found["pitch"].parent
    assert parent is not None  # noqa: S101 - it was found among a note's children
    return parent


def _chord(timed: Timed, event: EventId) -> EventId:
    """The first pitched note of its chord."""
    head = timed.first or timed
    if head.anchor is None:
        head.anchor = event
    return head.anchor


def _is_small(found: dict[str, Node]) -> bool:
    if "cue" in found:
        return True
    kind = found.get("type")
    return kind is not None and bool(kind.attrs) and kind.attrs.get("size") in _SMALL


def _written(node: Node, found: dict[str, Node], running: Running) -> WrittenPitch:
    said = {child.tag: child.text for child in node.children}
    if len(said) != len(node.children):
        raise running.place.bad("the pitch of a note says the same twice; delete one")
    step, alter, octave = said.get("step", ""), said.get("alter", ""), said.get("octave", "")
    try:
        written = written_pitch(step, alter, octave)
    except ValueError:
        what = f"{step.strip()!r} in octave {octave.strip()!r}"
        raise running.place.bad(f"a note has the pitch {what}; correct it") from None
    if written.fault:
        running.note(f"{written.fault}.")
    elif "accidental" in found:
        _compare(written.pitch, found["accidental"].text.strip(), running)
    return written


def _compare(pitch: Pitch, shown: str, running: Running) -> None:
    alter = ACCIDENTALS.get(shown)
    if alter is not None and alter != pitch.alter:
        running.note(
            f"The accidental shown at {pitch.step}{pitch.octave} ({shown}) contradicts the "
            f"pitch in the file ({pitch}); the pitch is read."
        )


def _ties(note: Node) -> tuple[bool, bool]:
    """Whether a tie arrives, and whether one leaves: what sounds, else what is drawn."""
    kinds = {c.attrs.get("type") for c in note.children if c.tag == "tie"}
    if not kinds:
        for notations in note.children:
            if notations.tag == "notations":
                kinds.update(c.attrs.get("type") for c in notations.children if c.tag == "tied")
    return "stop" in kinds or "continue" in kinds, "start" in kinds or "continue" in kinds


def _neighbours(
    notations: tuple[Notation, ...], written: Pitch, timed: Timed, running: Running
) -> tuple[Pitch, ...]:
    found: dict[Pitch, None] = {}
    for sign in ornament_signs(notations):
        key = running.key_at(timed.start, timed.staff)
        found.update(dict.fromkeys(auxiliaries(written, sign, key)))
    return tuple(found)
