"""Transposition: interval, key signatures and chord symbols, with music21's intervals."""

import re
from collections.abc import Iterator
from fractions import Fraction

from referee import pitches
from referee.faults import Fault, said
from referee.sheet import Measure, Sheet
from referee.summary import Summary

KEY_NAME = re.compile(r"([A-Ga-g])(#*|b*) (\w+)")
MOST_SIGNS = 7


def key_faults(source: Sheet, result: Sheet, summary: Summary) -> Iterator[Fault]:
    """The interval, the named keys, and all that follows from it on the page."""
    key = summary.raw["key"]
    semitones = key["transposition"]["semitones"]
    if pitches.semitones_of(summary.interval) != semitones:
        sentence = f"{summary.interval} is not {semitones} semitones"
        yield Fault("key", "transposition", sentence)
    unknown = summary.transposed_parts - set(source.parts)
    if unknown:
        yield Fault("key", "transposition", f"{min(unknown)} is no part")
    moved = bool(set(summary.parts) & summary.transposed_parts)
    if semitones and not moved:
        yield Fault("key", "transposition", "no harp part is transposed")
    yield from named_key_faults(summary, moved=moved)
    for part, measures in source.parts.items():
        name = summary.interval if part in summary.transposed_parts else "P1"
        others = result.parts.get(part, [])
        yield from signature_faults(part, name, measures, others)
        for one, two in zip(measures, others, strict=False):
            yield from symbol_faults(part, name, one, two)


def named_key_faults(summary: Summary, *, moved: bool) -> Iterator[Fault]:
    """``from`` moved by the interval is ``to``, and the ranking knows the choice."""
    key = summary.raw["key"]
    start, end = (KEY_NAME.fullmatch(str(key[side])) for side in ("from", "to"))
    if start and end:
        tonic = f"{start[1].upper()}{start[2]}4"
        goal = pitches.transposed(tonic, summary.interval) if moved else tonic
        same = pitches.semitone(goal) % 12 == pitches.semitone(f"{end[1].upper()}{end[2]}4") % 12
        if not same or start[3] != end[3]:
            sentence = f"{key['from']} moved by {summary.interval} is not {key['to']}"
            yield Fault("key", "to", sentence)
    ranked = [(row["interval"], row["semitones"]) for row in key["ranking"]]
    chosen = (summary.interval, key["transposition"]["semitones"])
    if ranked and chosen not in ranked:
        yield Fault("key", "ranking", f"the ranking does not know {chosen[0]}")
    for name, semitones in ranked:
        if pitches.semitones_of(name) != semitones:
            yield Fault("key", "ranking", f"{name} is not {semitones} semitones")


def in_force(measures: list[Measure]) -> Iterator[tuple[int, dict[int, int]]]:
    """Key signature by staff at the end of each measure; staff 0 is every other staff."""
    now: dict[int, int] = {0: 0}
    for measure in measures:
        for _, staff, fifths in measure.fifths:
            now = {0: fifths} if staff == 0 else now | {staff: fifths}
        yield measure.index, now


def signature_faults(
    part: str, name: str, measures: list[Measure], others: list[Measure]
) -> Iterator[Fault]:
    """Every key signature follows the interval; reported once, where it first does not."""
    for (index, one), (_, two) in zip(in_force(measures), in_force(others), strict=False):
        for staff in sorted(set(one) | set(two)):
            due = pitches.fifths_moved(one.get(staff, one[0]), name)
            has = two.get(staff, two[0])
            near = abs(due) <= MOST_SIGNS or name in {"P1", "-P1"}
            if (has != due) if near else (has - due) % 12 or abs(has) > MOST_SIGNS:
                sentence = f"the key signature has {has} fifths, {name} asks for {due}"
                yield Fault("key", said(part, index), sentence)
                return


def symbol_faults(part: str, name: str, one: Measure, two: Measure) -> Iterator[Fault]:
    """Chord symbols follow the interval."""
    due = [(at, moved_class(r, name), moved_class(b, name)) for at, r, b in one.harmonies]
    has = [(at, moved_class(r, "P1"), moved_class(b, "P1")) for at, r, b in two.harmonies]
    if due != has:
        sentence = "the chord symbols are not the source's, transposed"
        yield Fault("key", said(part, one.index), sentence)


def moved_class(root: str, name: str) -> int | None:
    """The pitch class of a root after transposition."""
    return pitches.semitone(pitches.transposed(f"{root}4", name)) % 12 if root else None


def accidental_faults(source: Sheet, result: Sheet) -> Iterator[Fault]:
    """The page gives each note its pitch, save where the source already did not."""
    flaws: set[tuple[str, int, Fraction, int]] = set()
    for part in source.parts:
        for note in source.notes(part):
            if not note.alter_due:
                flaws.add((part, note.index, note.offset, note.staff))
    flawed = {(part, index) for part, index, _, _ in flaws}
    for part in result.parts:
        for note in result.notes(part):
            if not note.alter_due and (part, note.index) not in flawed:
                where = said(part, note.index, note.offset)
                sentence = f"the accidental that the page shows does not give {note.pitch}"
                yield Fault("accidental", where, sentence)
