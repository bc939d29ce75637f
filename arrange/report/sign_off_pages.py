"""The sign-off sheet as Markdown, and as HTML that prints on one page."""

from collections.abc import Iterator, Sequence

from arrange.report.plain_text import in_html, in_markdown
from arrange.report.sign_off import FIDELITIES, SIGNED, Sheet


def sign_off_markdown(sheet: Sheet) -> str:
    """The sheet as Markdown."""
    return "\n".join(_markdown_lines(sheet)) + "\n"


def _markdown_lines(sheet: Sheet) -> Iterator[str]:
    yield f"# Sign-off: {in_markdown(sheet.title)}"
    yield ""
    for name, value in sheet.facts:
        yield f"- {name}: {in_markdown(value)}"
    yield ""
    yield "## Changed"
    yield ""
    yield "| rule | exact | idiomatic | lossy | all |"
    yield "|---|---|---|---|---|"
    for rule, row in (*sheet.rules, ("in all", sheet.sums)):
        yield f"| {in_markdown(rule)} | {' | '.join(map(str, row))} |"
    yield ""
    if sheet.others:
        yield f"Proposed and not carried out: {_others(sheet)}."
        yield ""
    for title, texts in sheet.lists:
        yield f"## {in_markdown(title)}"
        yield ""
        yield from (f"- {in_markdown(text)}" for text in texts)
        yield ""
    yield "## Signed"
    yield ""
    yield "| | name | date | signature |"
    yield "|---|---|---|---|"
    yield from (f"| {who} | | | |" for who in SIGNED)


def _others(sheet: Sheet) -> str:
    return ", ".join(f"{number} {outcome}" for outcome, number in sheet.others)


_STYLE = """
@page { size: A4; margin: 12mm 14mm; }
* { box-sizing: border-box; }
body { font: 10pt/1.35 "Liberation Sans", Arial, sans-serif; color: #1a1a1a; background: #fff;
  max-width: 182mm; margin: 0 auto; padding: 8mm 0; overflow-wrap: anywhere; }
h1 { font-size: 15pt; margin: 0 0 2mm; }
h2 { font-size: 10.5pt; margin: 3mm 0 0.8mm; border-bottom: 0.3mm solid #1a1a1a; }
dl { columns: 2; column-gap: 8mm; margin: 0; }
dl div { display: flex; gap: 3mm; break-inside: avoid; }
dt { font-weight: 600; flex: 0 0 20mm; } dd { margin: 0; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: 0.2mm 2mm; border-bottom: 0.15mm solid #767676; }
tbody th { font-weight: 400; }
td.count, th.count { text-align: right; width: 20mm; font-variant-numeric: tabular-nums; }
tfoot td, tfoot th { font-weight: 600; border-bottom: 0; }
ul { margin: 0; padding-left: 5mm; }
p { margin: 1mm 0 0; }
.signed { table-layout: fixed; }
.signed th, .signed td { border: 0.2mm solid #767676; }
.signed td { height: 8.5mm; }
.signed .who { width: 36mm; } .signed .day { width: 26mm; }
@media (max-width: 190mm) and (orientation: portrait) { dl { columns: 1; } }
@media screen { body { padding: 6mm 4mm; } }
@media print { body { padding: 0; font-size: 8.5pt; } dl { columns: 2; }
  h2 { break-after: avoid; } tr { break-inside: avoid; } }
"""
_POLICY = (
    """<meta http-equiv="Content-Security-Policy" """
    """content="default-src 'none'; style-src 'unsafe-inline'">"""
)


def sign_off_html(sheet: Sheet) -> str:
    """The sheet as a page that prints on one A4 page, and loads or runs nothing."""
    return "\n".join(_html_lines(sheet)) + "\n"


def _html_lines(sheet: Sheet) -> Iterator[str]:
    yield '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">'
    yield _POLICY
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f"<title>Sign-off: {in_html(sheet.title)}</title>"
    yield f"<style>{_STYLE}</style>\n</head>\n<body>\n<main>"
    yield f"<h1>Sign-off: {in_html(sheet.title)}</h1>"
    yield "<dl>"
    for name, value in sheet.facts:
        yield f"<div><dt>{name}</dt><dd>{in_html(value)}</dd></div>"
    yield "</dl>"
    yield from _html_changes(sheet)
    for title, texts in sheet.lists:
        yield f"<h2>{in_html(title)}</h2>\n<ul>"
        yield from (f"<li>{in_html(text)}</li>" for text in texts)
        yield "</ul>"
    yield '<h2>Signed</h2>\n<table class="signed">'
    yield '<thead><tr><th scope="col" class="who">as</th><th scope="col">name</th>'
    yield '<th scope="col" class="day">date</th><th scope="col">signature</th></tr></thead>'
    yield "<tbody>"
    for who in SIGNED:
        yield f'<tr><th scope="row">{who}</th><td></td><td></td><td></td></tr>'
    yield "</tbody>\n</table>\n</main>\n</body>\n</html>"


def _html_changes(sheet: Sheet) -> Iterator[str]:
    yield "<h2>Changed</h2>\n<table>"
    heads = "".join(f'<th scope="col" class="count">{f.lower()}</th>' for f in FIDELITIES)
    yield f'<thead><tr><th scope="col">rule</th>{heads}'
    yield '<th scope="col" class="count">all</th></tr></thead>\n<tbody>'
    for rule, row in sheet.rules:
        yield f'<tr><th scope="row">{in_html(rule)}</th>{_cells(row)}</tr>'
    yield f'</tbody>\n<tfoot><tr><th scope="row">in all</th>{_cells(sheet.sums)}</tr></tfoot>'
    yield "</table>"
    if sheet.others:
        yield f"<p>Proposed and not carried out: {_others(sheet)}.</p>"


def _cells(row: Sequence[int]) -> str:
    return "".join(f'<td class="count">{number}</td>' for number in row)
