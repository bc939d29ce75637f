"""The lesson page in a real browser: two printed pages, heard hand by hand, narrow, hostile."""

import io
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader
from review_pages import CHROMIUM, SCORES, Opened, hostile_score, opened

from arrange.cli import main

pytestmark = pytest.mark.skipif(not CHROMIUM.exists(), reason="Debian's chromium is not installed")

PIECES = ("minuet-da-capo", "romance-clarinet-harp")


@pytest.fixture(scope="module")
def browser() -> Iterator[Opened]:
    with opened() as found:
        yield found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("brief")


def brief(folder: Path, name: str, *options: str) -> Path:
    """The lesson page of a demo score's result."""
    result = folder / f"{name}.musicxml"
    if not result.exists():
        source = folder / "source" / f"{name}.musicxml"
        source.parent.mkdir(exist_ok=True)
        shutil.copy(SCORES / source.name, source)
        assert main(["convert", str(source), "-o", str(result)]) in (0, 3)
    page = folder / f"{name}{len(options)}.html"
    assert main(["brief", str(result), "-o", str(page), *options]) in (0, 3)
    return page


def pages(page: Page) -> PdfReader:
    return PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)))


@pytest.fixture(scope="module")
def shared(browser: Opened, folder: Path) -> Iterator[Page]:
    page = browser.page(brief(folder, "minuet-da-capo"))
    yield page
    page.close()


@pytest.mark.parametrize("name", PIECES)
def test_it_prints_to_two_pages_of_a4(browser: Opened, folder: Path, name: str) -> None:
    page = browser.page(brief(folder, name))
    found = pages(page)
    assert len(found.pages) == 2
    assert [round(float(side)) for side in found.pages[0].mediabox[2:]] == [595, 842]
    assert "The harp set up" in found.pages[0].extract_text()
    assert "The hard places" in found.pages[1].extract_text()
    assert " ".join(found.pages[1].extract_text().split()).endswith("this page gives none.")
    page.close()


def test_a_score_of_others_with_hostile_texts_prints_to_two_pages_as_text(
    browser: Opened, folder: Path
) -> None:
    source = hostile_score(folder)
    target = folder / "hostile.html"
    assert main(["brief", str(source), "-o", str(target)]) == 3
    page = browser.page(target)
    assert page.evaluate("window.hacked") is None
    expect(page.locator("h1")).to_contain_text("</script><script>")
    assert len(pages(page).pages) == 2
    page.close()


def test_large_print_is_large_and_leaves_nothing_out(browser: Opened, folder: Path) -> None:
    page = browser.page(brief(folder, "minuet-da-capo", "--large-print"))
    assert page.locator(".screen").count() == 0
    found = pages(page)
    assert len(found.pages) >= 2
    page.emulate_media(media="print")
    size = page.locator("main li").first.evaluate("e => getComputedStyle(e).fontSize")
    assert float(size.removesuffix("px")) * 0.75 >= 16
    room = page.locator("main ol").first.evaluate("e => getComputedStyle(e).paddingLeft")
    assert float(room.removesuffix("px")) >= 1.5 * float(size.removesuffix("px"))
    page.close()


def test_it_fits_a_narrow_screen_and_a_dark_one(browser: Opened, folder: Path) -> None:
    page = browser.page(brief(folder, "minuet-da-capo"), width=400, is_dark=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    page.close()


@pytest.mark.parametrize("is_dark", [False, True])
def test_words_stand_out_from_their_ground(
    browser: Opened, folder: Path, *, is_dark: bool
) -> None:
    page = browser.page(brief(folder, "minuet-da-capo"), is_dark=is_dark)
    assert page.evaluate(CONTRAST) == []
    page.close()


CONTRAST = """() => {
  const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const light = (colour) => numbers(colour).slice(0, 3).map((v) => v / 255)
    .map((v) => (v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if ((numbers(colour)[3] ?? 1) > 0) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  return [...document.querySelectorAll("main *, header *, #bar *")]
    .filter((e) => !e.closest("svg"))
    .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
    .filter((e) => {
      const [a, b] = [light(getComputedStyle(e).color), light(ground(e))].sort((x, y) => y - x);
      return (a + 0.05) / (b + 0.05) < 4.5;
    })
    .map((e) => e.className + ": " + e.textContent.slice(0, 40));
}"""


def test_every_control_has_a_name(shared: Page) -> None:
    unnamed = shared.evaluate(
        "() => [...document.querySelectorAll('button, select, input')].filter("
        "(e) => !(e.textContent.trim() && e.tagName === 'BUTTON') && !e.labels?.length).length"
    )
    assert unnamed == 0


def test_one_hand_is_heard_from_a_measure_and_its_notes_are_lit(shared: Page) -> None:
    shared.uncheck("#count")
    shared.select_option("#hand", "right")
    shared.fill("#from", "9")
    shared.click("#play")
    expect(shared.locator("#play")).to_have_text("■ Stop")
    expect(shared.locator("#place")).to_have_text("Measure 9")
    shared.locator(".system .note.lit").first.wait_for(state="attached")
    shared.click("#play")
    expect(shared.locator("#play")).to_have_text("▶ Play")
    expect(shared.locator(".system .note.lit")).to_have_count(0)


def test_it_is_counted_in_first(shared: Page) -> None:
    shared.check("#count")
    shared.select_option("#hand", "both")
    shared.select_option("#pace", "1")
    shared.fill("#from", "")
    shared.click("#play")
    expect(shared.locator("#place")).to_have_text("Counting in")
    expect(shared.locator("#place")).to_have_text("Measure 1", timeout=15_000)
    shared.click("#play")


def test_a_measure_that_is_not_there_is_said(shared: Page) -> None:
    shared.fill("#from", "999")
    shared.click("#play")
    expect(shared.locator("#said")).to_contain_text("no measure 999")
    expect(shared.locator("#play")).to_have_text("▶ Play")


def test_the_midi_files_are_in_the_page(shared: Page, folder: Path) -> None:
    sound = folder / "sound"
    assert main(
        ["brief", str(folder / "minuet-da-capo.musicxml"), "-o", str(folder / "x.html"),
         "--midi", str(sound)]
    ) in (0, 3)  # fmt: skip
    shared.locator("#files summary").click()
    links = shared.locator("#midi a")
    expect(links).to_have_count(9)
    with shared.expect_download() as waiting:
        links.first.click()
    name = waiting.value.suggested_filename
    assert waiting.value.path().read_bytes() == (sound / name).read_bytes()
