"""Harps by name, or from a user's own file; errors name the line."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

from arrange.errors import BadInput
from arrange.harp.harp import Harp, HarpString
from arrange.harp.tunings import TUNINGS, Stringing, strings_of
from arrange.pitch import LETTERS, Pitch

FIELDS = frozenset(
    {"name", "lowest", "highest", "tuning", "tuned", "levers", "without_levers", "player"}
)


class PlayerTable(dict[str, Any]):
    """The numbers of a harp file's player, as written, and where they are written.

    Attributes:
        file: the file's name; *text*: all of it.
    """

    def __init__(self, numbers: Mapping[str, Any], file: str, text: str) -> None:
        super().__init__(numbers)
        self.file = file
        self.text = text


@dataclass(frozen=True, slots=True)
class HarpFile:
    """A harp and, where its file gives them, the numbers of its player (as written)."""

    harp: Harp
    player: PlayerTable


@cache
def harp_names() -> tuple[str, ...]:
    """The names of the harps that ship, fewest strings first."""
    folder = resources.files("arrange.harp") / "profiles"
    names = [f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml")]
    return tuple(sorted(names, key=lambda name: int(name.rsplit("-", 1)[1])))


def load_harp(name: str) -> HarpFile:
    """Return the harp called *name*: a profile, a profile with another tuning, or a file.

    ``lever-34`` is tuned in E-flat; ``lever-34-C``, ``lever-34-F``, ``lever-34-B-flat`` and
    ``lever-34-A-flat`` are the same harp in the other tunings.

    Raises:
        BadInput: no such harp, or its file is wrong; names the line.
    """
    if name.endswith(".toml"):
        path = Path(name)
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise BadInput(f"cannot read the harp file: {error}", file=path.name) from error
        return _HarpText(text, path.name).harp_file()
    for profile in harp_names():
        if name == profile:
            return _shipped(profile, "")
        tuning = name.removeprefix(profile + "-")
        if name.startswith(profile + "-") and tuning in TUNINGS:
            return _shipped(profile, tuning)
    raise BadInput(
        f"there is no harp {name!r}; give one of {', '.join(harp_names())} "
        f"(a tuning may follow: {harp_names()[0]}-C) or a harp file that ends in .toml"
    )


def _shipped(profile: str, tuning: str) -> HarpFile:
    text = (resources.files("arrange.harp") / "profiles" / f"{profile}.toml").read_text("utf-8")
    if tuning:
        text = re.sub(r'(?m)^tuning = ".*"$', f'tuning = "{tuning}"', text)
        text = re.sub(r'(?m)^name = ".*"$', f'name = "{profile}-{tuning}"', text)
    return _HarpText(text, f"{profile}.toml").harp_file()


@dataclass(frozen=True, slots=True)
class _HarpText:
    text: str
    file: str

    def harp_file(self) -> HarpFile:
        try:
            table = tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as error:
            raise BadInput(f"not a TOML file: {error}", file=self.file) from error
        for key in table:
            if key not in FIELDS:
                raise self._wrong(key, f"{key!r} is no setting; use {', '.join(sorted(FIELDS))}")
        stringing = Stringing(
            lowest=self._end(table, "lowest"),
            highest=self._end(table, "highest"),
            tuning=self._tuning(table),
            tuned=self._tuned(table),
            lever_letters=self._levers(table),
            without_levers=frozenset(self._names(table, "without_levers")),
        )
        strings = self._strings(table, stringing)
        name = str(table.get("name", self.file.removesuffix(".toml")))
        player = table.get("player", {})
        if not isinstance(player, dict):
            raise self._wrong("player", "write the player's numbers in a table: [player]")
        numbers = PlayerTable(player, self.file, self.text)
        return HarpFile(Harp(name, stringing.tuning, strings), numbers)

    def _strings(self, table: Mapping[str, Any], stringing: Stringing) -> tuple[HarpString, ...]:
        if stringing.highest.line <= stringing.lowest.line:
            raise self._wrong("highest", "the highest string lies below the lowest")
        strings = strings_of(stringing)
        known = {s.name for s in strings} | set(LETTERS)
        for key in ("without_levers", "tuned"):
            for name in table.get(key, ()):
                if name not in known:
                    raise self._wrong(key, f"this harp has no string {name!r}")
        for low, high in pairwise(strings):
            if high.open.midi <= low.open.midi:
                raise self._wrong("tuned", f"{high.name} is tuned no higher than {low.name}")
        return strings

    def _wrong(self, key: str, message: str) -> BadInput:
        found = re.search(rf"(?m)^\s*\[?{re.escape(key)}\b", self.text)
        line = self.text.count("\n", 0, found.start()) + 1 if found else 1
        if found and self.text[found.start()] == "\n":
            line += 1
        return BadInput(f"line {line}: {message}", file=self.file)

    def _end(self, table: Mapping[str, Any], key: str) -> Pitch:
        value = table.get(key)
        if not isinstance(value, str):
            raise self._wrong(key, f'{key!r} is missing; write a string: {key} = "C2"')
        try:
            pitch = Pitch.parse(value)
        except BadInput as error:
            raise self._wrong(key, str(error)) from error
        if pitch.alter or not -1 <= pitch.octave <= 9:
            raise self._wrong(key, f"{value!r} is no string; name it by its letter alone: C2")
        return pitch

    def _tuning(self, table: Mapping[str, Any]) -> str:
        tuning = table.get("tuning", "E-flat")
        if not isinstance(tuning, str) or (tuning not in TUNINGS and "tuned" not in table):
            raise self._wrong(
                "tuning", f"{tuning!r} is no tuning; use {', '.join(TUNINGS)}, or a [tuned] table"
            )
        return tuning

    def _tuned(self, table: Mapping[str, Any]) -> dict[str, str]:
        tuned = table.get("tuned", {})
        if not isinstance(tuned, dict):
            raise self._wrong("tuned", 'write [tuned], then lines such as C2 = "B1" or B = "Bb"')
        for name, value in tuned.items():
            try:
                Pitch.parse(value if str(value)[-1:].isdigit() else f"{value}4")
            except BadInput as error:
                raise self._wrong(name, str(error)) from error
        return dict(tuned)

    def _levers(self, table: Mapping[str, Any]) -> frozenset[str]:
        levers = table.get("levers", "all")
        if levers == "all":
            return frozenset(LETTERS)
        if levers == "none":
            return frozenset()
        letters = self._names(table, "levers")
        if not set(letters) <= set(LETTERS):
            raise self._wrong("levers", 'write levers = "all", "none" or letters: ["C", "F"]')
        return frozenset(letters)

    def _names(self, table: Mapping[str, Any], key: str) -> list[str]:
        names = table.get(key, [])
        if not isinstance(names, list) or not all(isinstance(n, str) for n in names):
            raise self._wrong(key, f"{key!r} takes a list of names in quotes")
        return names
