"""A lever harp: its strings, what each sounds with the lever down and up, where a pitch lives."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from arrange.pitch import LETTERS, Pitch


class Position(StrEnum):
    """Where a lever stands."""

    DOWN = "down"
    UP = "up"


@dataclass(frozen=True, slots=True)
class HarpString:
    """One string.

    Attributes:
        letter: its name, ``C`` to ``B``; *octave*: scientific, C4 is middle C.
        open: the pitch with the lever down.
        raised: the pitch with the lever up; None where there is no lever.
    """

    letter: str
    octave: int
    open: Pitch
    raised: Pitch | None

    @property
    def name(self) -> str:
        """Letter and octave: ``C4``."""
        return f"{self.letter}{self.octave}"

    @property
    def line(self) -> int:
        """Diatonic place, C0 is 0: the number that spans are counted in."""
        return LETTERS.index(self.letter) + 7 * self.octave

    def pitch(self, position: Position) -> Pitch | None:
        """What it sounds in *position*; None for up where there is no lever."""
        return self.open if position is Position.DOWN else self.raised


@dataclass(frozen=True, slots=True)
class Home:
    """A string, by its place in the harp, and the lever position that gives a pitch."""

    string: int
    position: Position


@dataclass(frozen=True, eq=False)
class Harp:
    """A harp.

    Attributes:
        name: the profile's name; *tuning*: the tuning's name.
        strings: low to high, one a letter without gaps.
    """

    name: str
    tuning: str
    strings: tuple[HarpString, ...]

    @cached_property
    def _homes(self) -> dict[int, tuple[Home, ...]]:
        found: dict[int, list[Home]] = {}
        for i, string in enumerate(self.strings):
            for position in Position:
                pitch = string.pitch(position)
                if pitch is not None:
                    found.setdefault(pitch.midi, []).append(Home(i, position))
        return {midi: tuple(homes) for midi, homes in found.items()}

    @cached_property
    def _spelled(self) -> dict[Pitch, Home]:
        return {
            pitch: home
            for homes in self._homes.values()
            for home in homes
            if (pitch := self.strings[home.string].pitch(home.position)) is not None
        }

    @cached_property
    def _by_name(self) -> dict[str, int]:
        return {string.name: i for i, string in enumerate(self.strings)}

    def homes(self, midi: int) -> tuple[Home, ...]:
        """Where the key number *midi* can be played, lower string first; empty if nowhere."""
        return self._homes.get(midi, ())

    def home_as_spelled(self, pitch: Pitch) -> Home | None:
        """The home that *pitch* names, letter for letter; None where it names none."""
        return self._spelled.get(pitch)

    def string_named(self, name: str) -> int | None:
        """The place of the string called *name* (``C4``), or None."""
        return self._by_name.get(name)

    @property
    def lowest(self) -> Pitch:
        """The lowest string with its lever down."""
        return self.strings[0].open

    @property
    def highest(self) -> Pitch:
        """The highest string with its lever down."""
        return self.strings[-1].open
