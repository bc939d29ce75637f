"""Text from scores in Markdown and HTML: shown as it is, never carried out."""

import re
from html import escape

from arrange.report.comparing.wording import visible

_STEERING = re.compile(r"([\\`*_\[\]|~<>&])")
_AT_FIRST = re.compile(r"^(\d+)?([.)#+=-])")


def in_markdown(text: str) -> str:
    """The text on one line, with nothing in it that Markdown or HTML would act on."""
    escaped = _STEERING.sub(r"\\\1", " ".join(visible(text).split()))
    return _AT_FIRST.sub(r"\1\\\2", escaped)


def in_html(text: str) -> str:
    """The text on one line, escaped for an element or an attribute."""
    return escape(" ".join(visible(text).split()))
