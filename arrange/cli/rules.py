"""``leverwright rules``: the rules and rule books that are installed, or one of them."""

from typing import Annotated

import typer

from arrange.cli.streams import say


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="List the rules in running order and the rule books, or show one.")(rules)


def rules(
    name: Annotated[
        str, typer.Argument(metavar="[NAME]", help="A rule, or a rule book (name or .toml file).")
    ] = "",
) -> int:
    """List the rules and rule books, or show one."""
    from arrange.errors import BadInput
    from arrange.registry import installed
    from arrange.report.rule_pages import book_page, rule_list, rule_page
    from arrange.rulebook import load_rulebook

    known = {rule.id: rule for rule in installed().rules}
    books = installed().books
    if not name:
        say(rule_list(known.values()))
        say(f"\nRule books: {', '.join(books)}")
    elif name in known:
        say(rule_page(known[name]))
    elif name in books or name.endswith(".toml"):
        say(book_page(load_rulebook(name, installed())))
    else:
        choice = ", ".join([*known, *books])
        raise BadInput(f"there is no rule or rule book {name!r}; give one of {choice}")
    return 0
