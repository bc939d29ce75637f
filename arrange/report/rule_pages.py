"""Rules and rule books as text to read."""

from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass
from fractions import Fraction
from textwrap import fill

from arrange.report.rule_cards import RuleCard
from arrange.rule import Keeps, Rewrites, Rule
from arrange.rulebook import RuleBook

_WIDTH = 88


def rule_list(rules: Iterable[type[Rule]]) -> str:
    """The rules in running order, each with its first sentence."""
    cards = map(RuleCard.of, rules)
    return "\n".join(f"{card.id}\n{_indented(card.summary)}" for card in cards)


def rule_page(rule: type[Rule]) -> str:
    """All that is to be known about a rule."""
    return "\n".join(_rule_lines(RuleCard.of(rule)))


def book_page(book: RuleBook) -> str:
    """What a rule book says: which rules run, the player's numbers, the prices."""
    return "\n".join(_book_lines(book))


def rule_table(rules: Iterable[type[Rule]]) -> str:
    """The rules in running order as a Markdown table."""
    rows = ["| rule | concerns | does |", "|---|---|---|"]
    cards = map(RuleCard.of, rules)
    rows += (f"| `{card.id}` | {card.stage} | {card.summary} |" for card in cards)
    return "\n".join(rows) + "\n"


def _rule_lines(card: RuleCard) -> Iterator[str]:
    yield f"{card.id} (concerns {card.stage})"
    yield _indented(card.summary)
    for heading, text in card.sections:
        yield heading
        yield _indented(text)
    for setting in card.settings:
        yield f"Option {setting.name} = {setting.default}"
        yield _indented(setting.sense)
    for example in card.examples:
        match example:
            case Rewrites(title, before, after):
                yield f"Example: {title}\n    {before}\n -> {after}"
            case Keeps(title, score, because):
                yield f"Left alone: {title}\n    {score}"
                yield _indented(f"because {because}")


def _book_lines(book: RuleBook) -> Iterator[str]:
    yield f"{book.name}: {book.title}"
    yield f"Rules: {', '.join(rule.id for rule in book.rules) or 'none'}"
    yield "Player (seconds, strings, beats; reach and ring lock by octave):"
    for field in fields(book.player):
        yield f"  {field.name} = {_plain(getattr(book.player, field.name))}"
    yield "Prices (hundredths of a lever move):"
    for field in fields(book.prices):
        yield f"  {field.name} = {getattr(book.prices, field.name)}"


def _plain(value: object) -> str:
    """A number of the player's, or a group of them, in short."""
    if isinstance(value, Fraction):
        return f"{float(value):g}"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_plain(inner)}" for key, inner in value.items())
    if is_dataclass(value) and not isinstance(value, type):
        return ", ".join(f"{f.name} {_plain(getattr(value, f.name))}" for f in fields(value))
    return "none" if value is None or value == "" else str(value)


def _indented(text: str) -> str:
    return fill(text, _WIDTH, initial_indent="    ", subsequent_indent="    ")
