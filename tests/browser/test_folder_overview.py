"""The overview of a folder, in a browser: sorted, filtered, linked, on any screen."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from notation import to_musicxml
from playwright.sync_api import Page, expect
from review_pages import CHROMIUM, Opened, opened

from arrange.cli import main

pytestmark = pytest.mark.skipif(not CHROMIUM.exists(), reason="Debian's chromium is not installed")

EASY = "key=-3 tempo=60 name=Harp\nRH: G4q F4q Eb4q C4q | Eb4w\nLH: C3w | Ab2w"
HARD = "key=0 tempo=170 name=Harp\nRH: C5s C#5s D5s D#5s E5s F5s F#5s G5s G#5s A5s A#5s B5s C6q"


@pytest.fixture(scope="module")
def browser() -> Iterator[Opened]:
    with opened() as found:
        yield found


@pytest.fixture(scope="module")
def overview(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("folder")
    (place / "scores").mkdir()
    for name, text in {"a": EASY, "b": HARD, "c": EASY.replace("Ab2w", "G2w")}.items():
        (place / "scores" / f"{name}.musicxml").write_bytes(to_musicxml(text))
    (place / "scores" / "d.musicxml").write_text("<score-partwise>")
    main(["bulk", str(place / "scores"), "-o", str(place / "out"), "--workers", "1"])
    return place / "out" / "bulk.html"


def _page(browser: Opened, file: Path, *, width: int = 1300) -> Page:
    page = browser.browser.new_page(viewport={"width": width, "height": 900})
    page.on("console", lambda message: browser.complaints.append(message.text))
    page.on("pageerror", lambda error: browser.complaints.append(str(error)))
    page.goto(file.as_uri())
    return page


def _pieces(page: Page) -> list[str]:
    rows = page.locator("#pieces tbody tr:visible td:first-child")
    return [text.removesuffix(".musicxml") for text in rows.all_inner_texts()]


def test_a_heading_sorts_and_sorts_back(browser: Opened, overview: Path) -> None:
    page = _page(browser, overview)
    assert _pieces(page) == ["a", "b", "c", "d"]
    heading = page.get_by_role("columnheader", name="Minutes").last
    heading.get_by_role("button").press("Enter")
    assert _pieces(page)[0] == "b"
    expect(heading).to_have_attribute("aria-sort", "ascending")
    heading.get_by_role("button").click()
    assert _pieces(page)[-1] == "b"
    page.get_by_role("button", name="Outcome").click()
    assert _pieces(page)[-1] == "d"


def test_rows_are_found_by_their_words(browser: Opened, overview: Path) -> None:
    page = _page(browser, overview)
    page.get_by_label("Only rows with").fill("refused")
    assert _pieces(page) == ["d"]
    expect(page.locator("#shown")).to_have_text("1 shown")


def test_the_queue_leads_to_the_result(browser: Opened, overview: Path) -> None:
    page = _page(browser, overview)
    link = page.locator("#queue").get_by_role("link", name="b.musicxml")
    assert (overview.parent / str(link.get_attribute("href"))).is_file()
    assert page.get_by_role("img").count() >= 3


def test_no_page_is_wider_than_a_small_screen(browser: Opened, overview: Path) -> None:
    page = _page(browser, overview, width=400)
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
