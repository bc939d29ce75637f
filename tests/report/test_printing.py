"""Printed pages: a PDF that parses, its fonts in it, and on it all that must be seen."""

import io
import re
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import pytest
from printed_scores import SLIP, converted, noted, on_paper, performed

from arrange.cli import main
from arrange.report.engraving import fonts
from arrange.report.engraving.paging import systems
from arrange.report.engraving.papers import A4, LETTER
from arrange.report.proof import printed
from arrange.score.model import Mark, Score
from arrange.score.own import OwnCue

DEMO = "siciliana-flute-harp.musicxml"


@pytest.fixture(scope="module")
def demo() -> bytes:
    conversion, _ = converted(DEMO)
    performance = performed(conversion.result)
    return printed(conversion.result, "demo", A4, performance).pdf()


def _text(pdf: bytes) -> str:
    return " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def test_the_pages_have_the_size_of_the_paper() -> None:
    for paper in (A4, LETTER):
        pdf = on_paper(noted("name=Harp\nRH: C4w | D4w"), paper).pdf()
        (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
        size = [float(page.mediabox.width), float(page.mediabox.height)]
        points = [paper.width_mm * 72 / 25.4, paper.height_mm * 72 / 25.4]
        assert size == pytest.approx(points, abs=0.1)


def _cues(score: Score) -> list[Mark]:
    return [
        mark
        for part in score.parts
        for measure in part.measures
        for mark in measure.marks
        if mark.own and OwnCue.parse(mark.own) is not None
    ]


def test_title_names_rights_cues_and_page_numbers_can_be_read(demo: bytes) -> None:
    text = _text(demo)
    cues = [mark.text for mark in _cues(converted(DEMO)[0].score)]
    assert len(cues) == 5
    assert pypdf.PdfReader(io.BytesIO(demo)).get_num_pages() == 2
    for words in ("Siciliana for Flute and Harp", "House composition", "CC0 1.0", "· 2", *cues):
        assert words in text


def test_every_font_is_embedded(demo: bytes) -> None:
    for page in pypdf.PdfReader(io.BytesIO(demo)).pages:
        resources: Any = page["/Resources"]
        fonts = [font.get_object() for font in resources["/Font"].values()]
        assert fonts
        assert all("/FontFile2" in font["/FontDescriptor"] for font in fonts)


def test_no_page_is_blank_and_the_margins_are(demo: bytes) -> None:
    for page in pypdfium2.PdfDocument(demo):
        picture = page.render(scale=1).to_pil().convert("L")
        dark = picture.point(lambda shade: 255 if shade < 128 else 0)
        left, top, right, bottom = dark.getbbox()
        assert sum(dark.histogram()[255:]) > 5000
        margin = A4.margin_mm * 72 / 25.4 - 2
        assert min(left, top) >= margin
        assert right <= picture.width - margin
        assert bottom <= picture.height - margin


def test_the_same_score_gives_the_same_bytes(demo: bytes) -> None:
    result = converted(DEMO)[0].result
    assert printed(result, "demo", A4, performed(result)).pdf() == demo


def test_pedal_diagrams_and_damping_are_seen() -> None:
    sheet = on_paper(noted("name=Harp\nRH: [pedals D0 C0 B-1 E-1 F1 G0 A-1] C4w"))
    shown = {ink.text for ink in sheet.pages[0].ink}
    assert "D♮ C♮ B♭ E♭ F♯ G♮ A♭" in shown


def test_words_that_look_like_markers_or_markup_are_only_words() -> None:
    text = "</dir>\U000f00007\U000f0001 & <rend>"
    escaped = text.replace("&", "&amp;").replace("<", "&lt;")
    score = noted('name=Harp\nRH: "WORDS" C4w').decode().replace("WORDS", escaped).encode()
    shown = {ink.text for ink in on_paper(score).pages[0].ink if ink.runs}
    assert "</dir>7 & <rend>" in shown


def test_words_are_printed_in_their_own_size() -> None:
    score = noted('name=Harp\nRH: "high F♯" C4w').replace(b"<words", b'<words font-size="9"')
    (words,) = [ink for ink in on_paper(score).pages[0].ink if ink.text == "high F♯"]
    assert words.runs[0].size == pytest.approx(9 * 25.4 / 72, abs=0.02)
    assert [run.cut.is_music for run in words.runs] == [False, True]


def test_staves_have_the_height_that_the_score_asks_for() -> None:
    scaling = b"<scaling><millimeters>6.2</millimeters><tenths>40</tenths></scaling>"
    scaling = b"<defaults>" + scaling + b"</defaults>"
    score = noted("name=Harp\nRH: C5w").replace(b"<part-list>", scaling + b"<part-list>")
    lines = [ink.box for ink in on_paper(score).pages[0].ink if ink.group.name == "staff"]
    first = sorted((box.top + box.bottom) / 2 for box in lines)[:5]
    assert first[-1] - first[0] == pytest.approx(6.2, abs=0.05)


def test_a_score_laid_out_by_measures_is_printed_as_well() -> None:
    score = noted("name=Harp\nRH: C4w | D4w").decode()
    part = re.search(r'<part id="([^"]*)">', score)
    assert part is not None
    wrapped = re.sub(r"(<measure[^>]*>)", rf'\1<part id="{part[1]}">', score)
    wrapped = wrapped.replace("</measure>", "</part></measure>").replace(part[0], "", 1)
    wrapped = re.sub(r"</part>\s*</score-partwise>", "</score-partwise>", wrapped)
    turned = wrapped.replace("score-partwise", "score-timewise").encode()
    assert len(systems(on_paper(turned).pages)) == 1


def test_pages_begin_where_a_hand_has_time_to_turn() -> None:
    busy = " ".join(["C5e D5e E5e F5e G5e F5e E5e D5e |"] * 3)
    low = " ".join(["C3e D3e E3e F3e G3e F3e E3e D3e |"] * 3)
    rest = "C5e rq. rh |"
    score = noted(
        f"tempo=60 name=Harp\nRH: {busy} {rest} {busy} {busy} {busy} C5w\n"
        f"LH: {low} C3e rq. rh | {low} {low} {low} C3w"
    )
    performance = performed(score)
    free = performance.free_at()

    def turns(sheet_pages: object) -> list[float]:
        lines = systems(sheet_pages)  # type: ignore[arg-type] # pages as they are printed
        return [free[two.first] for one, two in pairwise(lines) if one.page != two.page]

    plain = on_paper(score, SLIP)
    chosen = printed(score, "test", SLIP, performance)
    assert len(chosen.pages) <= len(plain.pages)
    assert sum(turns(chosen.pages)) >= sum(turns(plain.pages))


def test_convert_writes_pages_proof_markdown_and_sheet_on_request(tmp_path: Path) -> None:
    score = tmp_path / "easy.musicxml"
    score.write_bytes(noted("key=-3 tempo=60 name=Harp\nRH: G4q F4q Eb4q C4q\nLH: C3w"))
    asked = ["--pdf", "--markdown", "--sign-off", "--paper", "letter"]
    assert main(["convert", str(score), *asked]) == 0
    endings = {path.name.removeprefix("easy.lever.") for path in tmp_path.iterdir()}
    assert endings == {
        "easy.musicxml",
        "musicxml",
        "changes.jsonl",
        "changes.md",
        "summary.json",
        "pdf",
        "proof.json",
        "sign-off.html",
        "sign-off.md",
    }


@pytest.mark.parametrize("library", ["verovio", "fontTools.ttLib", "reportlab.pdfgen.canvas"])
def test_without_a_library_one_line_says_what_to_install(
    library: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setitem(sys.modules, library, None)
    score = tmp_path / "easy.musicxml"
    score.write_bytes(noted("name=Harp\nRH: C4w"))
    fonts._face.cache_clear()
    assert main(["proof", str(score), "-o", str(tmp_path / "easy.pdf")]) == 2
    assert not (tmp_path / "easy.pdf").exists()
    assert "pip install verovio reportlab 'fonttools[woff]'" in capsys.readouterr().err
