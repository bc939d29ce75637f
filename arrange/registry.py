"""The rules and rule books that are installed, ours like anybody's, by entry point."""

from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.metadata import EntryPoint, entry_points

from arrange.changes import RuleId
from arrange.errors import BadInput
from arrange.rule import Rule

GROUP = "arrange.rules"


@dataclass(frozen=True, slots=True)
class Registry:
    """What is installed.

    Attributes:
        rules: in running order.
        books: name to TOML text.
    """

    rules: tuple[type[Rule], ...]
    books: dict[str, str]


@cache
def installed() -> Registry:
    """Load every rule that is offered under the entry-point group ``arrange.rules``.

    The house's own run in the order in which they stand; another package's run at the end of
    their stage.

    Raises:
        BadInput: a package cannot be loaded, two rules share an id, or a rule's ``after``
            names an unknown rule or one that runs later.
    """
    found = sorted(entry_points(group=GROUP), key=lambda e: (e.name != "house", e.name))
    rules = [rule for entry in found for rule in _load(entry)]
    ordered = tuple(sorted(rules, key=lambda rule: rule.stage))
    _checked([rule.id for rule in ordered], ordered)
    return Registry(ordered, _books(found))


def _load(entry: EntryPoint) -> tuple[type[Rule], ...]:
    try:
        offered = entry.load()
    except Exception as error:
        raise BadInput(f"the rules of {entry.value!r} cannot be loaded: {error}") from error
    return tuple(offered)


def _checked(ids: list[RuleId], rules: tuple[type[Rule], ...]) -> None:
    for rule_id in ids:
        if ids.count(rule_id) > 1:
            raise BadInput(f"two rules are called {rule_id!r}; remove one of their packages")
    for i, rule in enumerate(rules):
        for earlier in rule.after:
            if earlier not in ids[:i]:
                raise BadInput(f"rule {rule.id!r} must run after {earlier!r}, which does not")


def _books(found: list[EntryPoint]) -> dict[str, str]:
    books: dict[str, str] = {}
    for entry in found:
        package = entry.value.partition(":")[0]
        folder = resources.files(package) / "books"
        if not folder.is_dir():
            continue
        for file in sorted(folder.iterdir(), key=lambda f: f.name):
            if file.name.endswith(".toml"):
                books.setdefault(file.name.removesuffix(".toml"), file.read_text("utf-8"))
    return books
