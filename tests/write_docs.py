"""``python tests/write_docs.py``: writes the parts of README.md that are made from the code."""

import re
from pathlib import Path

from arrange.registry import installed
from arrange.report.rule_pages import rule_table

README = Path(__file__).resolve().parent.parent / "README.md"
_RULES = re.compile(r"(?s)(?<=<!-- rules -->\n).*(?=<!-- end of rules -->)")


def with_rules(text: str) -> str:
    """The text with the rule table as the rules are now."""
    table = rule_table(installed().rules)
    return _RULES.sub(lambda _: table, text)


if __name__ == "__main__":
    README.write_text(with_rules(README.read_text("utf-8")), "utf-8")
