"""The ways to treat a note that the levers cannot give as it is written."""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

from arrange.changes import Fidelity
from arrange.harp.harp import Harp
from arrange.levers.problem import Choice
from arrange.pitch import Pitch
from arrange.quick import quickly_made
from arrange.score.model import EventId, Note, Score
from arrange.score.plucks import Pluck
from arrange.study.compass import used_strings
from arrange.study.decided import ASIDE, choice_key
from arrange.study.grips import held_octaves
from arrange.study.prices import PriceList
from arrange.study.roles import NoteRole, Role, omission_price, roles
from arrange.study.terms import Terms

SET_LEVERS = "set-levers"
"""The rule that weighs these ways."""
_HIGHEST = 1 << 10
"""Above every key number."""
LEFT_OPEN = (Choice((), 0, "open"),)
"""For a note that is the editor's: it asks nothing and costs nothing."""
Struck = dict[EventId, list[int]]
"""The key numbers that harps strike together with a note, its own among them."""
Moment = tuple[int, tuple[int, int]]
"""Measure and offset, as whole numbers: fractions are slow to look up."""


@quickly_made
@dataclass(frozen=True, slots=True)
class _Standing:
    """What a note's place in the music allows: left out for a price, moved an octave.

    Attributes:
        chosen: the key of the way that an editor takes, or "".
    """

    omission: int | None
    octaves: tuple[int, ...]
    open_price: int
    chosen: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """What notes of one standing may become, by pitch, as far as it was asked for.

    Attributes:
        number: of the standing, in the order in which they were met.
    """

    number: int
    standing: _Standing
    by_pitch: dict[Pitch, tuple[Choice, ...]]


class Repairs:
    """The ways to treat each pluck of a score, with their prices.

    *limit* is the furthest that a repair may go: IDIOMATIC moves an inner note an octave,
    LOSSY also leaves notes out.
    """

    def __init__(self, score: Score, terms: Terms, limit: Fidelity) -> None:
        self._score = score
        self._harp = terms.harp
        self._player = terms.player
        self._prices = terms.prices
        self._limit = limit
        self._decided = terms.decided
        used = used_strings(terms.harp, terms.player)
        self._used = frozenset(terms.harp.strings.index(string) for string in used)

    @cached_property
    def _ways(self) -> dict[EventId, _Ways | None]:
        named = roles(self._score)
        prices = self._prices
        left_open = frozenset(self._score.left_open)
        struck = _struck_together(self._score)
        chosen = self._decided.chosen(SET_LEVERS)
        found: dict[EventId, _Ways | None] = {}
        known: dict[_Standing, _Ways] = {}
        for note_id, note in self._score.notes_by_id.items():
            role = named.get(note_id)
            if struck.get(note_id, []).count(note.pitch.midi) > 1:
                role = self._leading.get((*_moment(note), note.pitch.midi), role)
            if note.microtone or note_id in left_open:
                found[note_id] = None
                continue
            if role is None or role.role is Role.MELODY or note_id in self._decided.stays:
                standing = _Standing(None, (), prices.open_outer)
            else:
                standing = self._standing(note, role, struck)
            if note_id in chosen:
                standing = replace(standing, chosen=chosen[note_id])
            ways = known.get(standing)
            if ways is None:
                ways = known[standing] = _Ways(len(known), standing, {})
            found[note_id] = ways
        return found

    @cached_property
    def _leading(self) -> dict[tuple[int, tuple[int, int], int], NoteRole]:
        """The role of the string where melody, or else bass, is struck: what else is written on
        it then is plucked with it.
        """
        named = roles(self._score)
        found: dict[tuple[int, tuple[int, int], int], NoteRole] = {}
        for wanted in (Role.BASS, Role.MELODY):
            for event, note in self._score.notes_by_id.items():
                role = named.get(event)
                if role is not None and role.role is wanted and not note.is_grace:
                    found[*_moment(note), note.pitch.midi] = role
        return found

    def _standing(self, note: Note, role: NoteRole, struck: Struck) -> _Standing:
        prices = self._prices
        is_bass = role.role is Role.BASS
        price = None if is_bass else omission_price(role, prices)
        is_bound = note.is_grace or bool(note.auxiliaries) or role.is_swept
        is_bound = is_bound or (price is None and not is_bass)
        may_move = role.role is not Role.DOUBLING and self._limit is not Fidelity.EXACT
        return _Standing(
            price if not is_bound and self._limit is Fidelity.LOSSY else None,
            self._octaves(note, role, struck) if may_move and not is_bound else (),
            prices.open_outer if is_bass else prices.open,
        )

    def _octaves(self, note: Note, role: NoteRole, struck: Struck) -> tuple[int, ...]:
        """The octaves, in semitones, that neither the other notes nor the hand stand against."""
        held = self._held.get(note.id, ())
        octaves = _octaves_within(note, role, struck)
        if octaves and role.role is Role.BASS and role.is_strong:
            above = self._above.get(note.id, _HIGHEST)
            octaves = tuple(o for o in octaves if note.pitch.midi + o < above)
        return tuple(o for o in octaves if o // 12 in held)

    @cached_property
    def _above(self) -> dict[EventId, int]:
        """The lowest key number struck over each bass note, until the next one in its measure."""
        named = roles(self._score)
        found: dict[EventId, int] = {}
        rows = [self._score.by_part[part].measures for part in self._score.harp_parts]
        for measures in zip(*rows, strict=False):
            notes = sorted(
                (note for measure in measures for note in measure.notes if not note.is_grace),
                key=lambda note: -note.offset,
            )
            lowest = _HIGHEST
            for _, together in groupby(notes, key=lambda note: note.offset):
                struck = list(together)
                basses = [n for n in struck if n.id in named and named[n.id].role is Role.BASS]
                found.update((note.id, lowest) for note in basses)
                lowest = min([lowest, *(n.pitch.midi for n in struck)])
                lowest = _HIGHEST if basses else lowest
        return found

    @cached_property
    def _held(self) -> dict[EventId, tuple[int, ...]]:
        grip = self._player.grip
        return {
            note: octaves
            for staves in self._score.harps
            for note, octaves in held_octaves(self._score, staves, grip).items()
        }

    def choices(self, pluck: Pluck, pitch: Pitch | None = None) -> tuple[Choice, ...]:
        """Its homes, another octave, left out, and last: left to the editor.

        *pitch* stands in for the pluck's own where another key or octave is weighed.
        """
        ways = self._ways[pluck.note]
        if ways is None:
            return LEFT_OPEN
        if not self._decided.may_change(pluck.note.index):
            return self._as_written(pitch or pluck.pitch)
        pitch = pitch or pluck.pitch
        found = ways.by_pitch.get(pitch)
        if found is None:
            found = ways.by_pitch[pitch] = tuple(self._choices(pitch, ways.standing))
        return found

    def _as_written(self, pitch: Pitch) -> tuple[Choice, ...]:
        """Where nothing may change a note is played on the string that it names."""
        home = self._harp.home_as_spelled(pitch)
        stay = () if home is None else (Choice(((home.string, home.position),), 0),)
        return (*stay, Choice((), self._prices.open_outer, "open"))

    def spared(self, pluck: Pluck) -> tuple[int, int, tuple[int, ...]] | None:
        """What it costs at least not to play the pluck as it is; None where it is open anyhow.

        Returns:
            what leaving it costs, what an octave costs instead, and which octaves, in
            semitones.
        """
        ways = self._ways[pluck.note]
        if ways is None:
            return None
        standing = ways.standing
        if standing.chosen:
            return 0, 0, ()
        left = standing.open_price
        if standing.omission is not None:
            left = min(left, standing.omission)
        return left, min(left, self._prices.octave), standing.octaves

    def kind(self, pluck: Pluck) -> tuple[Pitch, int]:
        """Plucks of one kind have the same choices, whatever the key."""
        ways = self._ways[pluck.note]
        if ways is not None and not self._decided.may_change(pluck.note.index):
            return pluck.pitch, -2
        return pluck.pitch, -1 if ways is None else ways.number

    def _choices(self, pitch: Pitch, standing: _Standing) -> list[Choice]:
        found = homes_of(pitch, self._harp, self._prices)
        found.extend(
            Choice(((home.string, home.position),), self._prices.octave, "octave")
            for octave in standing.octaves
            for home in self._harp.homes(pitch.midi + octave)
            if home.string in self._used
        )
        if standing.omission is not None:
            found.append(Choice((), standing.omission, "omit"))
        found.append(Choice((), standing.open_price, "open"))
        return _chosen(found, standing.chosen, self._harp) if standing.chosen else found


def _chosen(choices: list[Choice], key: str, harp: Harp) -> list[Choice]:
    """The choices with a price on all but the one that an editor takes, if it is among them."""
    if all(choice_key(choice, harp) != key for choice in choices):
        return choices
    return [
        choice if choice_key(choice, harp) == key else replace(choice, cost=choice.cost + ASIDE)
        for choice in choices
    ]


def _struck_together(score: Score) -> Struck:
    together: dict[Moment, list[int]] = {}
    found: Struck = {}
    for part in score.harp_parts:
        for measure in score.by_part[part].measures:
            for note in measure.notes:
                struck = found[note.id] = together.setdefault(_moment(note), [])
                struck.append(note.pitch.midi)
    return found


def _moment(note: Note) -> Moment:
    return note.id.index, note.offset.as_integer_ratio()


def _octaves_within(note: Note, role: NoteRole, struck: Struck) -> tuple[int, ...]:
    """The octaves that a note can move: inner notes between the outer ones, a bass below all."""
    own = note.pitch.midi
    others = list(struck[note.id])
    others.remove(own)
    if not others:
        return ()
    if role.role is Role.BASS:
        return tuple(octave for octave in (-12, 12) if own + octave < min(others))
    low, high = min(others), max(others)
    return tuple(octave for octave in (12, -12) if low < own + octave < high)


def homes_of(pitch: Pitch, harp: Harp, prices: PriceList) -> list[Choice]:
    """The strings and positions that give *pitch*, the one that it names first."""
    spelled = harp.home_as_spelled(pitch)
    found = [
        Choice(((home.string, home.position),), 0 if home == spelled else prices.respelled)
        for home in harp.homes(pitch.midi)
    ]
    return sorted(found, key=lambda choice: choice.cost)
