"""Rule books: which rules run with which options, the player's numbers, the prices."""

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from arrange.changes import RuleId
from arrange.errors import BadInput
from arrange.hands.player import Grip, LeverHand, Player
from arrange.harp.files import PlayerTable
from arrange.pitch import Pitch
from arrange.registry import Registry
from arrange.rule import Rule
from arrange.study.prices import PriceList

Numbers = TypeVar("Numbers", LeverHand, Grip)
SLOW_HAND = LeverHand(Fraction(1), Fraction(1), Fraction(1))
"""Where a file gives a hand that had none some of its numbers, the others are a beginner's."""


@dataclass(frozen=True, slots=True)
class RuleBook:
    """A rule book.

    Attributes:
        name: as it was asked for.
        rules: the rules that run, in order, with their options set.
        transposes: False in a book that leaves the key alone and runs nothing.
    """

    name: str
    title: str
    rules: tuple[Rule, ...]
    player: Player
    prices: PriceList
    transposes: bool


def load_rulebook(
    name: str,
    registry: Registry,
    player_settings: Mapping[str, Any] | None = None,
    asked: tuple[RuleId, ...] = (),
) -> RuleBook:
    """Return the rule book called *name*: one that ships with the rules, or a file.

    *player_settings* (a harp file's ``[player]`` table) go over the book's own numbers; the
    rules that are *asked* for run beside the book's.

    Raises:
        BadInput: no such book, or its file is wrong; names the line.
    """
    text, file = _text(name, registry)
    return _BookText(text, file, registry, asked).book(name, player_settings or {})


def _text(name: str, registry: Registry) -> tuple[str, str]:
    if not name.endswith(".toml"):
        if name not in registry.books:
            known = ", ".join(registry.books)
            raise BadInput(f"there is no rule book {name!r}; give one of {known}, or a .toml file")
        return registry.books[name], f"{name}.toml"
    path = Path(name)
    try:
        return path.read_text(encoding="utf-8"), path.name
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"cannot read the rule book: {error}", file=path.name) from error


@dataclass(frozen=True, slots=True)
class _BookText:
    text: str
    file: str
    registry: Registry
    asked: tuple[RuleId, ...]
    begin: int = 0

    def book(self, name: str, player_settings: Mapping[str, Any]) -> RuleBook:
        try:
            table = tomllib.loads(self.text, parse_float=Fraction)
        except tomllib.TOMLDecodeError as error:
            raise BadInput(f"not a TOML file: {error}", file=self.file) from error
        self._known(table, {"title", "transpose", "rules", "player", "prices"})
        prices = self._prices(table.get("prices", {}))
        player = self.player_with(Player(), table.get("player", {}))
        return RuleBook(
            name=name,
            title=str(table.get("title", name)),
            rules=self._rules(table.get("rules", {}), prices),
            player=self._reader_of(player_settings).player_with(player, _exact(player_settings)),
            prices=prices,
            transposes=bool(table.get("transpose", True)),
        )

    def _reader_of(self, numbers: Mapping[str, Any]) -> "_BookText":
        """What names the line where a player's numbers are written, in a harp's file or here."""
        if isinstance(numbers, PlayerTable):
            begin = max(numbers.text.find("[player]"), 0)
            return replace(self, text=numbers.text, file=numbers.file, begin=begin)
        return self

    def _wrong(self, key: str, message: str) -> BadInput:
        line_of = re.compile(rf"(?m)^\s*\[?(?:\w+\.)?{re.escape(key)}\b")
        found = line_of.search(self.text, self.begin) or line_of.search(self.text)
        line = self.text.count("\n", 0, found.end()) + 1 if found else 1
        return BadInput(f"line {line}: {message}", file=self.file)

    def _known(self, table: Mapping[str, Any], names: set[str]) -> None:
        for key in table:
            if key not in names:
                raise self._wrong(key, f"{key!r} is no setting; use {', '.join(sorted(names))}")

    def _prices(self, table: Mapping[str, Any]) -> PriceList:
        self._known(table, {f.name for f in fields(PriceList)})
        for key, value in table.items():
            if not isinstance(value, int) or value < 0:
                raise self._wrong(key, f"{key!r} takes whole hundredths of a move, 0 or more")
        return replace(PriceList(), **table)

    def _rules(self, table: Mapping[str, Any], prices: PriceList) -> tuple[Rule, ...]:
        lists = {key: table[key] for key in ("run", "also") if key in table}
        options = {key: value for key, value in table.items() if key not in lists}
        known = {rule.id: rule for rule in self.registry.rules}
        chosen = [rule_id for rule_id, rule in known.items() if not rule.on_request]
        if lists.get("run", "all") != "all":
            chosen = self._rule_names("run", lists["run"], known)
        also = [*self._rule_names("also", lists.get("also", []), known), *self.asked]
        chosen = [*chosen, *self._rule_names("also", also, known)]
        self._rule_names("rules", list(options), known)
        return tuple(
            self._rule(known[rule_id], options.get(rule_id, {}), prices)
            for rule_id in known
            if rule_id in chosen
        )

    def _rule_names(self, key: str, names: Any, known: Mapping[str, Any]) -> list[str]:
        if not isinstance(names, list):
            raise self._wrong(key, f"{key!r} takes a list of rules in quotes")
        for rule_id in names:
            if rule_id not in known:
                raise self._wrong(key, f"there is no rule {rule_id!r}; `rules` lists them")
        return list(map(str, names))

    def _rule(self, kind: type[Rule], options: Mapping[str, Any], prices: PriceList) -> Rule:
        names = {f.name for f in fields(kind)}  # type: ignore[arg-type] # rules are dataclasses
        self._known(options, names - {"prices"})
        given = dict(options)
        if "prices" in names:
            given["prices"] = prices
        return kind(**given)

    def player_with(self, player: Player, table: Mapping[str, Any]) -> Player:
        self._known(table, {f.name for f in fields(Player)})
        changed: dict[str, Any] = {}
        for key, value in table.items():
            changed[key] = self._player_number(player, key, value)
        return replace(player, **changed)

    def _player_number(self, player: Player, key: str, value: Any) -> Any:
        now = getattr(player, key)
        if key in {"left", "right"}:
            if value is False:
                return None
            return self._record(key, now or SLOW_HAND, value, Fraction)
        if key == "grip":
            grip = self._record(key, player.grip, value, int)
            if min(grip.notes, grip.strings, grip.rolled_strings) < 1:
                raise self._wrong(key, "a hand holds at least one note on one string")
            return grip
        if isinstance(now, dict):
            try:
                return {**now, **{int(octave): Fraction(n) for octave, n in value.items()}}
            except (ValueError, TypeError, AttributeError) as error:
                raise self._wrong(key, f"{key!r} takes octave = number") from error
        if isinstance(now, str):
            return self._string_name(key, value)
        return self._number(key, now, value)

    def _number(self, key: str, now: int | Fraction, value: Any) -> int | Fraction:
        if isinstance(value, bool) or not isinstance(value, int | Fraction) or value < 0:
            raise self._wrong(key, f"{key!r} takes a number, 0 or more, not {value!r}")
        if isinstance(now, int) and value != int(value):
            raise self._wrong(key, f"{key!r} takes a whole number, not {value!r}")
        return Fraction(value) if isinstance(now, Fraction) else int(value)

    def _string_name(self, key: str, value: Any) -> str:
        name = value if isinstance(value, str) else ""
        try:
            is_string = name == value and (not name or Pitch.parse(name).alter == 0)
        except BadInput:
            is_string = False
        if not is_string:
            raise self._wrong(key, f"{key!r} takes a string, letter and octave: {key} = 'G2'")
        return name

    def _record(
        self, key: str, now: Numbers, value: Any, number: Callable[[Any], int | Fraction]
    ) -> Numbers:
        if not isinstance(value, dict):
            raise self._wrong(key, f"{key!r} takes a table of numbers")
        self._known(value, {f.name for f in fields(now)})
        for name, given in value.items():
            if not isinstance(given, int | Fraction) or given < 0:
                raise self._wrong(name, f"{name!r} takes a number, 0 or more")
        changed: dict[str, Any] = {name: number(given) for name, given in value.items()}
        return replace(now, **changed)


def _exact(value: Any) -> Any:
    """Floats of a TOML table as the decimal fractions that they were written as."""
    if isinstance(value, float):
        return Fraction(repr(value))
    if isinstance(value, Mapping):
        return {key: _exact(inner) for key, inner in value.items()}
    return value
