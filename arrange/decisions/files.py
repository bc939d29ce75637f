"""Files of decisions: TOML in, TOML out."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from arrange.decisions.records import FORMAT, VERSION, Decision, Decisions, Kind, Place
from arrange.errors import BadInput
from arrange.harp.harp import Position
from arrange.pitch import Interval, Pitch
from arrange.units import Quarters, quarters_text

_TABLES = ("decline", "choose", "accept", "pin")
_OF_CHANGES = frozenset(
    {"change", "rule", "anchor", "nth", "place", "sentence", "by", "note"},
)
_KNOWN: Mapping[Kind, frozenset[str]] = {
    Kind.DECLINE: _OF_CHANGES,
    Kind.ACCEPT: _OF_CHANGES,
    Kind.CHOOSE: _OF_CHANGES | {"option"},
    Kind.NOTE: frozenset({"kind", "place", "pitch", "by", "note"}),
    Kind.KEY: frozenset({"kind", "key", "by", "note"}),
    Kind.LEVER: frozenset({"kind", "place", "string", "position", "by", "note"}),
}
_NEEDED: Mapping[Kind, tuple[str, ...]] = {
    Kind.DECLINE: ("change",),
    Kind.ACCEPT: ("change",),
    Kind.CHOOSE: ("rule", "place", "option"),
    Kind.NOTE: ("place", "pitch"),
    Kind.KEY: ("key",),
    Kind.LEVER: ("place", "string", "position"),
}
_OF_PLACES = frozenset({"part", "index", "measure", "offset", "staff", "voice", "note"})


def read_decisions(path: Path) -> Decisions:
    """Read a file of decisions.

    Raises:
        BadInput: it cannot be read, or says something else than decisions; names the line.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"cannot read the decisions: {error}", file=path.name) from error
    return _Text(text, path.name).decisions()


@dataclass(frozen=True, slots=True)
class _Text:
    text: str
    file: str

    def decisions(self) -> Decisions:
        try:
            table = tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as error:
            raise BadInput(f"not a TOML file: {error}", file=self.file) from error
        if table.get("format") != FORMAT:
            message = f"no file of decisions; it begins with format = {FORMAT!r}"
            raise BadInput(message, file=self.file)
        if table.get("version") != VERSION:
            message = f"decisions of version {table.get('version')}; this is for {VERSION}"
            raise BadInput(message, file=self.file)
        for key in table:
            if key not in {"format", "version", "all", "source", *_TABLES}:
                raise BadInput(f"line {self._line(key)}: {key!r} is no setting", file=self.file)
        source = table.get("source", {})
        measures = source.get("measures", {}) if isinstance(source, dict) else None
        if not isinstance(measures, dict):
            message = f"line {self._line('source')}: [source] and its measures are tables"
            raise BadInput(message, file=self.file)
        return Decisions(
            file=self.file,
            source_file=str(source.get("file", "")),
            sha256=str(source.get("sha256", "")),
            measures=tuple((part, tuple(str(row).split())) for part, row in measures.items()),
            entries=tuple(self._entries(table)),
            declines_all=table.get("all", False) is True,
        )

    def _line(self, key: str) -> int:
        found = re.search(rf"(?m)^\s*\[*\s*{re.escape(key)}\b", self.text)
        return self.text.count("\n", 0, found.end()) + 1 if found else 1

    def _entries(self, table: Mapping[str, Any]) -> Iterator[Decision]:
        for name in _TABLES:
            rows = table.get(name, [])
            lines = [
                self.text.count("\n", 0, match.end()) + 1
                for match in re.finditer(rf"(?m)^\s*\[\[\s*{name}\s*\]\]", self.text)
            ]
            if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
                message = f"line {self._line(name)}: write each of them as [[{name}]]"
                raise BadInput(message, file=self.file)
            for number, row in enumerate(rows):
                line = lines[number] if number < len(lines) else self._line(name)
                yield _Entry(row, name, line, self.file).decision()


@dataclass(frozen=True, slots=True)
class _Entry:
    row: Mapping[str, Any]
    table: str
    line: int
    file: str

    def decision(self) -> Decision:
        kind = self._kind()
        for key in self.row:
            if key not in _KNOWN[kind]:
                known = ", ".join(sorted(_KNOWN[kind]))
                raise self._wrong(f"{key!r} is no setting; use {known}")
        for key in _NEEDED[kind]:
            if key not in self.row:
                raise self._wrong(f"{key!r} is missing")
        try:
            return self._decision(kind)
        except (ValueError, TypeError, ZeroDivisionError) as error:
            raise self._wrong(str(error)) from error
        except BadInput as error:
            raise self._wrong(error.message) from error

    def _wrong(self, message: str) -> BadInput:
        return BadInput(f"line {self.line}, [[{self.table}]]: {message}", file=self.file)

    def _kind(self) -> Kind:
        named = str(self.row.get("kind")) if self.table == "pin" else self.table
        pins = [kind.value for kind in Kind if kind.is_pin]
        if self.table == "pin" and named not in pins:
            raise self._wrong(f"kind is one of {', '.join(pins)}")
        return Kind(named)

    def _text(self, key: str, row: Mapping[str, Any] | None = None) -> str:
        value = (self.row if row is None else row).get(key, "")
        if not isinstance(value, str):
            raise TypeError(f"{key!r} takes text")
        return value

    def _number(self, key: str, row: Mapping[str, Any], default: int) -> int:
        value = row.get(key, default)
        if not isinstance(value, int) or isinstance(value, bool):
            raise TypeError(f"{key!r} takes a whole number")
        return value

    def _decision(self, kind: Kind) -> Decision:
        pitch, key = self._text("pitch"), self._text("key")
        if kind is Kind.KEY and key != "keep":
            key = str(Interval.parse(key))
        return Decision(
            kind=kind,
            place=self._place() if "place" in self.row else None,
            by=self._text("by"),
            note=self._text("note"),
            change=self._text("change"),
            rule=self._text("rule"),
            anchor=self._text("anchor"),
            nth=self._number("nth", self.row, 1),
            sentence=self._text("sentence"),
            option=self._text("option"),
            pitch=Pitch.parse(pitch) if pitch else None,
            key=key,
            string=self._text("string"),
            position=Position(self.row.get("position", "up")),
            line=self.line,
        )

    def _place(self) -> Place:
        row = self.row["place"]
        if not isinstance(row, dict) or not set(row) <= _OF_PLACES or "part" not in row:
            raise ValueError(f"a place has a part and, of these, {', '.join(sorted(_OF_PLACES))}")
        if "index" not in row and "measure" not in row:
            raise ValueError("a place needs an index or a measure")
        return Place(
            part=self._text("part", row),
            index=self._number("index", row, -1),
            measure=self._text("measure", row),
            offset=Quarters(Fraction(self._text("offset", row) or "0")),
            staff=self._number("staff", row, 0),
            voice=self._text("voice", row),
            note=self._text("note", row),
        )


def write_decisions(decisions: Decisions) -> str:
    """The text of a file that holds these decisions."""
    lines = [f"format = {_quoted(FORMAT)}", f"version = {VERSION}"]
    if decisions.declines_all:
        lines.append("all = true")
    lines += ["", "[source]", f"file = {_quoted(decisions.source_file)}"]
    lines.append(f"sha256 = {_quoted(decisions.sha256)}")
    if decisions.measures:
        lines += ["", "[source.measures]"]
        lines += [f"{_quoted(part)} = {_quoted(' '.join(r))}" for part, r in decisions.measures]
    for entry in decisions.entries:
        lines += ["", f"[[{'pin' if entry.kind.is_pin else entry.kind.value}]]", *_fields(entry)]
    return "\n".join(lines) + "\n"


def _fields(entry: Decision) -> Iterator[str]:
    if entry.kind.is_pin:
        yield f"kind = {_quoted(entry.kind.value)}"
    texts = {
        "change": entry.change,
        "rule": entry.rule,
        "anchor": entry.anchor,
        "option": entry.option,
        "pitch": str(entry.pitch or ""),
        "key": entry.key,
        "string": entry.string,
        "position": entry.position.value if entry.kind is Kind.LEVER else "",
        "sentence": entry.sentence,
        "by": entry.by,
        "note": entry.note,
    }
    yield from (f"{key} = {_quoted(text)}" for key, text in texts.items() if text)
    if not entry.kind.is_pin:
        yield f"nth = {entry.nth}"
    if entry.place is not None:
        yield f"place = {{ {', '.join(_place_fields(entry.place))} }}"


def _place_fields(place: Place) -> Iterator[str]:
    yield f"part = {_quoted(place.part)}"
    if place.index >= 0:
        yield f"index = {place.index}"
    if place.measure:
        yield f"measure = {_quoted(place.measure)}"
    yield f"offset = {_quoted(quarters_text(place.offset))}"
    if place.staff:
        yield f"staff = {place.staff}"
    if place.voice:
        yield f"voice = {_quoted(place.voice)}"
    if place.note:
        yield f"note = {_quoted(place.note)}"


def _quoted(text: str) -> str:
    """A basic string of TOML."""
    return '"' + "".join(map(_escaped, text)) + '"'


def _escaped(sign: str) -> str:
    if sign in '"\\':
        return "\\" + sign
    return f"\\u{ord(sign):04x}" if ord(sign) < 0x20 or ord(sign) == 0x7F else sign
