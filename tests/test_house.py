"""The house rules that no linter knows: names, sizes, headings, the order of the rules."""

import ast
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest
import rules
from arrange.registry import installed
from arrange.report.rule_cards import HEADINGS, RuleCard
from arrange.rule import Keeps, Rewrites, Rule

ROOT = Path(__file__).resolve().parent.parent
ENGINE = sorted((ROOT / "arrange").rglob("*.py"))
RULE_FILES = sorted(p for p in (ROOT / "rules").glob("*.py") if p.name != "__init__.py")
TESTS = sorted((ROOT / "tests").rglob("*.py"))
EVERY_FILE = [*ENGINE, *RULE_FILES, *TESTS]
BANNED = {"util", "utils", "helper", "helpers", "misc", "manager", "handler", "process", "data",
          "info", "obj", "get"}  # fmt: skip
MODULE_LINES, RULE_LINES = 400, 200
PUBLIC_METHODS, PUBLIC_NAMES = 10, 12


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def _words(name: str) -> set[str]:
    return {word.lower() for word in re.findall(r"[A-Z]?[a-z]+|[A-Z]+", name)}


def _defined(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        match node:
            case ast.ClassDef(name=name) | ast.FunctionDef(name=name) | ast.arg(arg=name):
                yield name
            case ast.Name(id=name, ctx=ast.Store()):
                yield name
            case _:
                pass


@pytest.mark.parametrize("path", EVERY_FILE, ids=_name)
def test_names_are_musicians_words(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    # what a foreign base class calls its own methods is not ours to choose
    names = {path.stem, *_defined(tree)} - {"resolve"}
    assert sorted(name for name in names if _words(name) & BANNED) == []


@pytest.mark.parametrize("path", [*ENGINE, *TESTS], ids=_name)
def test_no_module_is_longer_than_the_cap(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= MODULE_LINES


@pytest.mark.parametrize("path", RULE_FILES, ids=_name)
def test_a_rule_module_is_short_its_examples_aside(path: Path) -> None:
    text = path.read_text("utf-8")
    examples = [
        node
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.AnnAssign)
        and isinstance(node.target, ast.Name)
        and node.target.id == "examples"
    ]
    spared = sum((node.end_lineno or node.lineno) - node.lineno + 1 for node in examples)
    assert len(text.splitlines()) - spared <= RULE_LINES


@pytest.mark.parametrize("path", [*ENGINE, *RULE_FILES], ids=_name)
def test_no_class_has_too_many_public_methods(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    crowded = [
        node.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        and sum(1 for f in node.body if isinstance(f, ast.FunctionDef) and f.name[0] != "_")
        > PUBLIC_METHODS
    ]
    assert crowded == []


def test_the_package_itself_offers_few_names() -> None:
    import arrange  # noqa: PLC0415 - the package as such is looked at

    assert len(getattr(arrange, "__all__", ())) <= PUBLIC_NAMES


@pytest.mark.parametrize("path", EVERY_FILE, ids=_name)
def test_nothing_is_left_to_be_done_in_silence(path: Path) -> None:
    text = path.read_text("utf-8")
    words = ("TO" + "DO", "FIX" + "ME", "X" * 3, "HA" + "CK")
    assert [word for word in words if re.search(rf"\b{word}\b", text)] == []


def test_every_rule_module_stands_in_the_order_once() -> None:
    listed = [rule.__module__.removeprefix("rules.") for rule in rules.ORDER]
    assert sorted(listed) == [path.stem for path in RULE_FILES]


def test_what_is_installed_is_the_order() -> None:
    assert installed().rules == rules.ORDER


def test_the_order_keeps_stages_and_after() -> None:
    stages = [rule.stage for rule in rules.ORDER]
    assert stages == sorted(stages)
    for i, rule in enumerate(rules.ORDER):
        assert rule.after <= {earlier.id for earlier in rules.ORDER[:i]}, rule.id


@pytest.mark.parametrize("rule", rules.ORDER, ids=lambda rule: rule.id)
class TestEveryRule:
    def test_is_called_like_its_module(self, rule: type[Rule]) -> None:
        stem = rule.__module__.rpartition(".")[2]
        assert rule.id == stem.replace("_", "-")
        assert rule.__name__ == "".join(word.capitalize() for word in stem.split("_"))

    def test_is_a_frozen_record_whose_options_have_defaults(self, rule: type[Rule]) -> None:
        assert is_dataclass(rule)
        assert hash(rule()) == hash(rule())
        assert all(f.kw_only for f in fields(rule))

    def test_says_what_why_when_and_at_what_cost(self, rule: type[Rule]) -> None:
        card = RuleCard.of(rule)
        assert tuple(heading for heading, _ in card.sections) == HEADINGS
        assert all(text.endswith(".") for _, text in card.sections)
        assert card.summary.endswith(".")

    def test_says_what_each_option_is(self, rule: type[Rule]) -> None:
        assert [s.name for s in RuleCard.of(rule).settings if not s.sense] == []

    def test_cites_its_sources(self, rule: type[Rule]) -> None:
        assert rule.sources

    def test_has_examples_and_near_misses(self, rule: type[Rule]) -> None:
        kinds = [type(example) for example in rule.examples]
        assert kinds.count(Rewrites) >= 2
        assert kinds.count(Keeps) >= 2

    def test_offers_one_public_name(self, rule: type[Rule]) -> None:
        path = ROOT / "rules" / f"{rule.__module__.rpartition('.')[2]}.py"
        tree = ast.parse(path.read_text("utf-8"))
        kinds = (ast.ClassDef, ast.FunctionDef)
        named = [node.name for node in tree.body if isinstance(node, kinds)]
        assert [name for name in named if name[0] != "_"] == [rule.__name__]
