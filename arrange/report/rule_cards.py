"""A rule as people read it: what it does and why, its options, its examples."""

import ast
import inspect
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, fields
from itertools import pairwise

from arrange.rule import Keeps, Rewrites, Rule, Stage

HEADINGS = (
    "What it does",
    "Why it helps",
    "When it holds back",
    "What it costs",
    "Sources",
)
STAGES = {
    Stage.CLEAN: "what was for other instruments",
    Stage.LEVEL: "the level",
    Stage.FIT: "the compass",
    Stage.GRIP: "the hands",
    Stage.SWEEP: "glissandi",
    Stage.LEVERS: "strings and levers",
    Stage.CUES: "words for the player",
}
_HEADING = re.compile(r"^(\w[\w ]*):$", re.MULTILINE)
_TOLD = ("limit", "book", "interval", "first_pitches", "prices")
"""Options that the conversion itself fills in."""


@dataclass(frozen=True, slots=True)
class Setting:
    """An option of a rule: its name, what it is unless a rule book says otherwise, its sense."""

    name: str
    default: str
    sense: str


@dataclass(frozen=True, slots=True)
class RuleCard:
    """A rule as people read it.

    Attributes:
        summary: the first sentence; *sections*: heading to text, in order.
        settings: what a rule book may set.
    """

    id: str
    stage: str
    summary: str
    sections: tuple[tuple[str, str], ...]
    settings: tuple[Setting, ...]
    examples: tuple[Rewrites | Keeps, ...]

    @classmethod
    def of(cls, rule: type[Rule]) -> "RuleCard":
        """Read a rule's card from its own documentation."""
        text = inspect.cleandoc(rule.__doc__ or "")
        parts = _HEADING.split(text)
        headed = zip(parts[1::2], parts[2::2], strict=True)
        return cls(
            id=rule.id,
            stage=STAGES[rule.stage],
            summary=_joined(parts[0]),
            sections=tuple((heading, _joined(body)) for heading, body in headed),
            settings=tuple(_settings(rule)),
            examples=rule.examples,
        )


def _joined(text: str) -> str:
    return " ".join(text.split())


def _settings(rule: type[Rule]) -> Iterator[Setting]:
    senses = dict(_senses(rule))
    for field in fields(rule):  # type: ignore[arg-type] # rules are dataclasses
        if field.name not in _TOLD:
            yield Setting(field.name, str(field.default), senses.get(field.name, ""))


def _senses(rule: type[Rule]) -> Iterator[tuple[str, str]]:
    """Each option's own words: the string that follows it in the source of its class."""
    module = ast.parse(inspect.getsource(sys.modules[rule.__module__]))
    bodies = [
        n.body for n in module.body if isinstance(n, ast.ClassDef) and n.name == rule.__name__
    ]
    for body in bodies:
        for statement, after in pairwise(body):
            match statement, after:
                case (
                    ast.AnnAssign(target=ast.Name(id=name)),
                    ast.Expr(value=ast.Constant(value=str(words))),
                ):
                    yield name, _joined(words)
                case _:
                    pass
