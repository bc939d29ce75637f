"""The house rules that no linter knows: names, sizes, headings, the order of the rules."""

import ast
import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import pytest

import arrange
import rules
from arrange.registry import installed
from arrange.report.rule_cards import HEADINGS, RuleCard
from arrange.rule import Keeps, Rewrites, Rule

ROOT = Path(__file__).resolve().parent.parent
ENGINE = sorted((ROOT / "arrange").rglob("*.py"))
RULE_FILES = sorted(p for p in (ROOT / "rules").glob("*.py") if p.name != "__init__.py")
TESTS = sorted((ROOT / "tests").rglob("*.py"))
EVERY_FILE = [*ENGINE, *RULE_FILES, *TESTS]
TEXTS = {path: path.read_text("utf-8") for path in EVERY_FILE}
TREES = {path: ast.parse(text) for path, text in TEXTS.items()}
BANNED = {"util", "utils", "helper", "helpers", "misc", "manager", "handler", "process", "data",
          "info", "obj"}  # fmt: skip
FOREIGN = {"data"}
"""The word that the tests' library for made-up examples has for its own."""
MODULE_LINES, RULE_LINES, TEST_LINES = 400, 200, 600
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


def test_names_are_musicians_words() -> None:
    named = {_name(p): {p.stem, *_defined(TREES[p])} for p in EVERY_FILE}
    for path in TESTS:
        named[_name(path)] -= FOREIGN
    wrong = [
        (file, name)
        for file, names in named.items()
        for name in names
        if _words(name) & BANNED or name.lstrip("_").startswith("get_")
    ]
    assert sorted(wrong) == []


def test_no_module_is_longer_than_the_cap() -> None:
    caps = {**dict.fromkeys(ENGINE, MODULE_LINES), **dict.fromkeys(TESTS, TEST_LINES)}
    lengths = {path: len(TEXTS[path].splitlines()) for path in caps}
    assert {_name(path): n for path, n in lengths.items() if n > caps[path]} == {}


def test_a_rule_module_is_short_its_examples_aside() -> None:
    lengths = {_name(p): len(TEXTS[p].splitlines()) - _spared(TREES[p]) for p in RULE_FILES}
    assert {name: n for name, n in lengths.items() if n > RULE_LINES} == {}


def _spared(tree: ast.AST) -> int:
    """The lines that a rule's examples take."""
    return sum(
        (node.end_lineno or node.lineno) - node.lineno + 1
        for node in ast.walk(tree)
        if isinstance(node, ast.AnnAssign)
        and isinstance(node.target, ast.Name)
        and node.target.id == "examples"
    )


def test_no_class_has_too_many_public_methods() -> None:
    counts = {
        f"{_name(path)}: {node.name}": sum(1 for f in node.body if _is_public_method(f))
        for path in (*ENGINE, *RULE_FILES)
        for node in ast.walk(TREES[path])
        if isinstance(node, ast.ClassDef)
    }
    assert {name: n for name, n in counts.items() if n > PUBLIC_METHODS} == {}


def _is_public_method(node: ast.stmt) -> bool:
    if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
        return False
    return "property" not in [d.id for d in node.decorator_list if isinstance(d, ast.Name)]


def test_the_package_itself_offers_few_names() -> None:
    assert len(getattr(arrange, "__all__", ())) <= PUBLIC_NAMES


def test_nothing_is_left_to_be_done_in_silence() -> None:
    marks = re.compile(r"\b(TO" + "DO|FIX" + "ME|XX" + r"X|HA" + r"CK)\b")
    assert [_name(path) for path in EVERY_FILE if marks.search(TEXTS[path])] == []


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
        assert hash(rule()) == hash(rule())
        assert all(f.kw_only for f in fields(rule))  # type: ignore[arg-type] # a dataclass, as said

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
