"""The glissandi: what sounds in each, and the other ways that were weighed for it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from arrange.changes import ChangeLog, Option, Outcome
from arrange.phrasing import listed
from arrange.pitch import Pitch
from arrange.study.glissandi import StandingSweep
from arrange.teach.piece import Piece
from arrange.teach.words import HANDS, beat_in, span_text, spoken, string_text
from arrange.units import Quarters

SWEEP_RULE = "resolve-glissandi"
"""The rule of the house whose options are shown (its id stands in the log)."""


@dataclass(frozen=True, slots=True)
class Glissando:
    """A glissando, or a place where there was one.

    Attributes:
        where: measure and beat; *text*: what is played; *options*: other ways to try.
    """

    index: int
    where: str
    text: str
    options: tuple[str, ...] = ()


def glissandi(piece: Piece, log: ChangeLog | None) -> tuple[Glissando, ...]:
    """Return the glissandi of a piece, with the ways from its change log where there is one."""
    weighed = dict(_weighed(piece, log))
    found = []
    for sweep in piece.sweeps:
        _, ways = weighed.pop((sweep.begin.index, sweep.begin.offset), ("", ()))
        where = _where(piece, sweep.begin.index, sweep.begin.offset)
        found.append(Glissando(sweep.begin.index, where, _said(piece, sweep), _others(ways)))
    for (index, offset), (reason, options) in weighed.items():
        where = _where(piece, index, offset)
        found.append(
            Glissando(index, where, f"written otherwise here. {spoken(reason)}", _others(options))
        )
    found.sort(key=lambda g: g.index)
    return tuple(found)


_Places = tuple[int, Quarters]


def _weighed(
    piece: Piece, log: ChangeLog | None
) -> Iterator[tuple[_Places, tuple[str, tuple[Option, ...]]]]:
    """Yield what the log says of glissandi: place, reason, ways."""
    parts = {staff.part for staff in piece.staves}
    for entry in log.entries if log is not None else ():
        where = entry.change.where
        is_sweep = entry.change.rule == SWEEP_RULE and where.part in parts
        is_there = 0 <= where.index < len(piece.measures)
        if is_sweep and is_there and entry.change.options and entry.outcome is Outcome.APPLIED:
            reason = entry.change.reason.rstrip(".")
            yield (where.index, where.offset), (reason, entry.change.options)


def _where(piece: Piece, index: int, offset: Quarters) -> str:
    beat = beat_in(piece.measures, index, offset)
    return f"{span_text(piece.measures, (index,))} beat {beat}"


def _others(options: Sequence[Option]) -> tuple[str, ...]:
    """The ways that were not taken and can be had, cheapest first."""
    ways = [o for o in options if not o.taken and o.cost is not None]
    ways.sort(key=lambda option: (option.cost or 0, option.text))
    return tuple(spoken(option.text) for option in ways)


def _said(piece: Piece, sweep: StandingSweep) -> str:
    notes = piece.score.notes_by_id
    start = notes[sweep.sweep.start]
    end = start if sweep.sweep.end is None else notes[sweep.sweep.end]
    count = len(sweep.strings)
    ends = f"from {string_text(start.pitch)} to {string_text(end.pitch)}"
    pace = f"{count} strings, about {round(sweep.strings_per_s)} a second"
    told = [f"{HANDS[sweep.hand]} {ends}, {pace}"]
    sounding = _classes(sweep)
    if sounding:
        told.append(f"sounds {sounding}")
    if sweep.foreign:
        names = [spoken(piece.harp.strings[n].name) for n in sweep.foreign]
        told.append(f"{listed(names)} sound beside it")
    if sweep.held:
        names = [spoken(piece.harp.strings[n].name) for n in sweep.held]
        told.append(f"the other hand holds {listed(names)}")
    return "; ".join(told)


def _classes(sweep: StandingSweep) -> str:
    """The seven letters as they sound, from C."""
    tones = dict(sweep.sweep.tones)
    return " ".join(
        string_text(Pitch(letter, tones[letter], 4)).rpartition(" ")[2]
        for letter in "CDEFGAB"
        if letter in tones
    )
