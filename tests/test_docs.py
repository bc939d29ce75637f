"""README.md and DEVELOPERS.md say what is so."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from write_docs import with_rules

from arrange.cli import command
from arrange.cli.codes import ExitCode
from arrange.decisions import read_decisions
from arrange.harp.files import load_harp
from arrange.registry import installed
from arrange.rulebook import load_rulebook

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
COMMANDS: dict[str, Any] = command().commands
HELP = {"-h", "--help"}


def _blocks(kind: str, text: str) -> list[str]:
    return re.findall(rf"(?s)```{kind}\n(.*?)```", text)


def _command_lines() -> Iterator[list[str]]:
    for block in (*_blocks("sh", README), *_blocks("sh", DEVELOPERS)):
        for words in (shlex.split(line, comments=True) for line in block.splitlines()):
            for i, word in enumerate(words):
                if word.rpartition("/")[2] == "leverwright":
                    yield words[i + 1 :]


def _options(name: str) -> set[str]:
    return {word for p in COMMANDS[name].params for word in p.opts if word.startswith("-")} - HELP


def test_the_rule_table_is_current() -> None:
    assert with_rules(README) == README, "run: python tests/write_docs.py"


def test_every_rule_stands_in_the_table() -> None:
    assert all(f"| `{rule.id}` |" in README for rule in installed().rules)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_each_of_its_options_is_documented(name: str) -> None:
    assert f"| `leverwright {name}" in README
    rows = [line for line in README.splitlines() if line.startswith("| `-")]
    documented = {
        word
        for words, users in (row.split("|")[1:3] for row in rows)
        for word in re.findall(r"`(-[^`]*)`", words)
        if name in users.replace(",", " ").split()
    }
    assert documented == _options(name)


def test_every_command_line_that_is_shown_can_be_parsed() -> None:
    lines = list(_command_lines())
    assert len(lines) >= 5
    for words in lines:
        assert words[0] in COMMANDS, words
        COMMANDS[words[0]].make_context(words[0], words[1:])


def test_every_exit_code_is_documented() -> None:
    rows = re.findall(r"(?m)^\| (\d) \| ", README)
    assert sorted(map(int, rows)) == sorted(ExitCode)


def test_the_harp_file_that_is_shown_is_good(tmp_path: Path) -> None:
    (text,) = [block for block in _blocks("toml", README) if "my-harp" in block]
    path = tmp_path / "my-harp.toml"
    path.write_text(text, "utf-8")
    found = load_harp(str(path))
    player = load_rulebook("concert", installed(), found.player).player
    assert found.harp.name == "my-harp"
    assert player.right is None
    assert player.grip.strings == 7


def test_the_decisions_that_are_shown_are_good(tmp_path: Path) -> None:
    path = tmp_path / "shown.toml"
    (text,) = [block for block in _blocks("toml", README) if "[[decline]]" in block]
    path.write_text(text, "utf-8")
    assert [entry.kind.value for entry in read_decisions(path).entries] == [
        "decline",
        "note",
        "lever",
    ]
    (entry,) = [block for block in _blocks("toml", DEVELOPERS) if "[[choose]]" in block]
    path.write_text(f'format = "leverwright-decisions"\nversion = 1\n{entry}', "utf-8")
    assert read_decisions(path).entries[0].option == "octave-C4-down"


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_path_that_is_named_is_there(text: str) -> None:
    named = re.findall(r"`((?:arrange|rules|tests|corpus|\.ci)/[\w./-]*)`", text)
    assert [path for path in named if not (ROOT / path).exists()] == []


def test_every_picture_that_is_shown_is_there() -> None:
    shown = re.findall(r'!\[[^]]*\]\(([^)]*)\)|<img [^>]*src="([^"]*)"', README)
    assert [path for pair in shown for path in pair if path and not (ROOT / path).exists()] == []


def test_every_word_of_the_glossary_stands_once() -> None:
    section = DEVELOPERS.partition("## Glossary")[2].partition("\n## ")[0]
    words = re.findall(r"(?m)^- \*\*([^*]+)\*\*", section)
    assert len(words) > 20
    assert sorted(set(words)) == sorted(words)
