"""Hashes by which a later run knows what has changed: settings, program, files."""

import hashlib
import json
import sys
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import arrange
from arrange.registry import installed


def sha256(raw: bytes) -> str:
    """The hash of some bytes, in hexadecimal digits."""
    return hashlib.sha256(raw).hexdigest()


def settings_sha256(*settings: object) -> str:
    """The hash of settings: equal settings have equal hashes, in every run and on any machine.

    Takes dataclasses, mappings, sequences, sets, enumerations, exact numbers and texts.

    Raises:
        TypeError: something else is among them, of which no lasting hash is known.
    """
    content = [program_fingerprint(), [_plain(value) for value in settings]]
    return sha256(json.dumps(content, sort_keys=True).encode())


@cache
def program_fingerprint() -> str:
    """The hash of the program: its own code, the rules that are installed, the importer."""
    packages = [Path(arrange.__file__).parent]
    for name in sorted({rule.__module__.partition(".")[0] for rule in installed().rules}):
        file = sys.modules[name].__file__
        if file is not None:
            packages.append(Path(file).parent)
    digest = hashlib.sha256(_version_of("music21").encode())
    for package in packages:
        for path in sorted(package.rglob("*"), key=lambda p: p.as_posix()):
            if path.suffix in (".py", ".toml", ".json", ".html", ".js", ".css"):
                digest.update(path.relative_to(package.parent).as_posix().encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()


def program_version() -> str:
    """The version of the program, as installed."""
    return _version_of("leverwright")


def _version_of(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "not installed"


def _plain(value: object) -> object:
    """A value as JSON content, always in the same order."""
    if is_dataclass(value) and not isinstance(value, type):
        content = {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
        return {"": type(value).__qualname__, **content}
    match value:
        case Enum():
            plain: object = value.name
        case None | bool() | int() | str():
            plain = value
        case Fraction() | float():
            plain = str(value)
        case Mapping():
            rows = [[_plain(key), _plain(content)] for key, content in value.items()]
            plain = sorted(rows, key=json.dumps)
        case list() | tuple():
            plain = [_plain(item) for item in value]
        case set() | frozenset():
            plain = sorted((_plain(item) for item in value), key=json.dumps)
        case _:
            raise TypeError(f"no lasting hash is known for {type(value).__name__}")
    return plain
