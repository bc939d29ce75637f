"""A comparison as one page of HTML: opens from disk, prints, and runs nothing."""

from collections.abc import Iterator, Sequence
from html import escape

from arrange.report.comparing.forms import groups, where
from arrange.report.comparing.records import ABOUT, Aspect, Comparison, Difference
from arrange.report.comparing.wording import capital, counted, visible

_STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; margin: 0 auto; max-width: 62rem; padding: 1rem;
  color: #1a1a1a; background: #fff; overflow-wrap: anywhere; }
h1 { font-size: 1.5rem; line-height: 1.25; }
h2 { font-size: 1.2rem; margin: 2rem 0 0.25rem; }
a { color: #0b4f9e; }
a:focus-visible { outline: 3px solid #0b4f9e; outline-offset: 2px; }
.verdict { font-size: 1.1rem; font-weight: 600; border-left: 0.3rem solid #0b4f9e;
  padding: 0.25rem 0.75rem; }
.about { color: #4a4a4a; margin: 0 0 0.5rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: 0.35rem 0.6rem;
  border-bottom: 1px solid #8a8a8a; }
td.where { width: 30%; }
@media (max-width: 34rem) {
  table.differences, table.differences tbody, table.differences tr, table.differences td
    { display: block; width: auto; border: 0; }
  table.differences thead { position: absolute; clip-path: inset(50%); }
  table.differences tr { border-bottom: 1px solid #8a8a8a; padding: 0.4rem 0; }
  table.differences td { padding: 0.1rem 0; }
  td.where { font-weight: 600; }
}
@media (prefers-color-scheme: dark) {
  body { color: #eee; background: #161616; }
  .about { color: #c2c2c2; }
  a { color: #8fc1ff; }
  .verdict { border-color: #8fc1ff; }
}
@media print {
  body { max-width: none; padding: 0; color: #000; background: #fff; font-size: 10pt; }
  nav { display: none; }
  .about { color: #333; }
  tr { break-inside: avoid; }
  h2 { break-after: avoid; }
  thead { display: table-header-group; }
}
"""


_POLICY = (
    """<meta http-equiv="Content-Security-Policy" """
    """content="default-src 'none'; style-src 'unsafe-inline'">"""
)


def as_html(comparison: Comparison) -> str:
    """The page; text from the scores is escaped, and the page may load or run nothing."""
    names = f"{comparison.before.name} and {comparison.after.name}"
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            _POLICY,
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{_text(names)}: what changed</title>",
            f"<style>{_STYLE}</style>",
            "</head>",
            "<body>",
            *_body(comparison),
            "</body>",
            "</html>",
            "",
        ]
    )


def _body(comparison: Comparison) -> Iterator[str]:
    yield "<header>"
    yield "<h1>What changed</h1>"
    yield "<table>"
    yield '<tbody><tr><th scope="row">Before</th>'
    yield f"<td>{_text(comparison.before.name)}</td></tr>"
    yield f'<tr><th scope="row">After</th><td>{_text(comparison.after.name)}</td></tr></tbody>'
    yield "</table>"
    yield f'<p class="verdict">{_text(comparison.summary)}</p>'
    for transposition in comparison.transpositions:
        yield f"<p>{_text(transposition.sentence)} What follows of it is not listed.</p>"
    yield "</header>"
    if comparison.counts:
        yield from _contents(comparison)
    yield "<main>"
    for aspect, differences in groups(comparison):
        yield from _section(comparison, aspect, differences)
    yield "</main>"


def _contents(comparison: Comparison) -> Iterator[str]:
    yield '<nav aria-label="Classes of differences">'
    yield "<ul>"
    for aspect, number in comparison.counts.items():
        link = f'<a href="#{aspect}">{capital(aspect)}</a>'
        yield f"<li>{link}: {counted(number, 'difference')}</li>"
    yield "</ul>"
    yield "</nav>"


def _section(
    comparison: Comparison, aspect: Aspect, differences: Sequence[Difference]
) -> Iterator[str]:
    yield f'<section id="{aspect}" aria-labelledby="{aspect}-title">'
    number = counted(len(differences), "difference")
    yield f'<h2 id="{aspect}-title">{capital(aspect)} ({number})</h2>'
    yield f'<p class="about">{ABOUT[aspect]}.</p>'
    yield '<table class="differences">'
    yield '<thead><tr><th scope="col">Where</th><th scope="col">What</th></tr></thead>'
    yield "<tbody>"
    for difference in differences:
        place = where(comparison, difference) or "Whole score"
        yield (
            f'<tr><td class="where">{_text(place)}</td><td>{_text(difference.sentence)}</td></tr>'
        )
    yield "</tbody>"
    yield "</table>"
    yield "</section>"


def _text(text: str) -> str:
    return escape(visible(text))
