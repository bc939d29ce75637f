"""Note elements that have found their time, to notes and rests."""

from arrange.pitch import UNISON, Pitch
from arrange.score.model import EventId, Notation, Note, Rest
from arrange.score.reading.notations import ornament_signs
from arrange.score.reading.pitches import WrittenPitch, auxiliaries, sounding
from arrange.score.reading.running import Running, Timed, transposition_of


def read_notes(running: Running) -> tuple[tuple[Note, ...], tuple[Rest, ...]]:
    """Return the notes and rests of the measure, in document order."""
    notes: list[Note] = []
    rests: list[Rest] = []
    for timed in running.timed:
        told = timed.told
        if told.written is not None:
            notes.append(_note(timed, told.written, running))
        elif told.refusal:
            raise running.place.bad(told.refusal)
        elif told.is_rest:
            rests.append(_rest(timed, running))
    return tuple(notes), tuple(rests)


def _rest(timed: Timed, running: Running) -> Rest:
    place = running.place
    return Rest(
        EventId(place.part, place.index, timed.key),
        timed.start,
        timed.duration,
        timed.told.staff,
        timed.voice,
        timed.told.is_whole_rest,
    )


def _note(timed: Timed, written: WrittenPitch, running: Running) -> Note:
    told, place = timed.told, running.place
    if told.remark:
        running.note(told.remark)
    pitch = written.pitch
    move = UNISON
    if timed.transpositions:
        move = transposition_of(timed.transpositions, told.staff)
        pitch = sounding(pitch, move)
    event = EventId(place.part, place.index, timed.key)
    extra: tuple[Pitch, ...] = ()
    if told.notations:
        extra = _neighbours(told.notations, written.pitch, timed, running)
        if move is not UNISON:
            extra = tuple(sounding(p, move) for p in extra)
    return Note(
        event,
        timed.start,
        timed.duration,
        told.staff,
        timed.voice,
        pitch,
        _chord(timed, event),
        told.is_grace,
        told.is_small,
        told.arrives,
        told.leaves,
        told.notations,
        extra,
        bool(written.fault),
        told.has_lyric,
    )


def _chord(timed: Timed, event: EventId) -> EventId:
    """The first pitched note of its chord."""
    head = timed.first or timed
    if head.anchor is None:
        head.anchor = event
    return head.anchor


def _neighbours(
    notations: tuple[Notation, ...], written: Pitch, timed: Timed, running: Running
) -> tuple[Pitch, ...]:
    found: dict[Pitch, None] = {}
    for sign in ornament_signs(notations):
        key = running.key_at(timed.start, timed.told.staff)
        found.update(dict.fromkeys(auxiliaries(written, sign, key)))
    return tuple(found)
