"""Both kinds of pages: for any screen, any eye, on paper; and no score can make them run."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from compared_scores import shortened
from playwright.sync_api import Page, expect
from review_pages import CHROMIUM, HOSTILE, SCORES, Opened, converted, hostile_score, opened

from arrange.cli import main

pytestmark = pytest.mark.skipif(not CHROMIUM.exists(), reason="Debian's chromium is not installed")

CONTRAST = """() => {
  const channels = (text) => text.match(/[\\d.]+/g).map(Number);
  const light = (rgb) => {
    const [r, g, b] = rgb.map((c) => c / 255).map(
      (c) => (c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const behind = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = channels(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour.slice(0, 3);
    }
    return [255, 255, 255];
  };
  const poor = [];
  let seen = 0;
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const element = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || element.closest("script, option, .off-screen")) continue;
    if (!element.checkVisibility()) continue;
    const style = getComputedStyle(element);
    const isInk = element.namespaceURI.endsWith("svg");
    const front = channels(isInk ? style.fill : style.color).slice(0, 3);
    const [one, two] = [light(front), light(behind(element))].sort((a, b) => b - a);
    const large = parseFloat(style.fontSize) >= 24;
    seen += 1;
    if ((one + 0.05) / (two + 0.05) < (large ? 3 : 4.5)) {
      poor.push(`${texts.currentNode.data.trim().slice(0, 40)}: ${front} on ${behind(element)}`);
    }
  }
  return { seen, poor };
}"""
UNNAMED = """() => [...document.querySelectorAll("button, input, select, textarea, [role=img]")]
  .filter((one) => one.checkVisibility())
  .filter((one) => {
    const by = one.getAttribute("aria-labelledby");
    const named = by ? by.split(" ").map((id) => document.getElementById(id)?.textContent) : [];
    const words = [one.getAttribute("aria-label"), ...named,
      ...[...(one.labels || [])].map((label) => label.innerText), one.innerText];
    return !words.some((text) => text && text.trim());
  })
  .map((one) => one.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Opened]:
    with opened() as found:
        yield found


@pytest.fixture(scope="module")
def review(tmp_path_factory: pytest.TempPathFactory) -> Path:
    source = tmp_path_factory.mktemp("review") / "gigue.musicxml"
    shutil.copy(SCORES / "gigue-long-room.musicxml", source)
    return converted(source)


@pytest.fixture(scope="module")
def comparison(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("comparison")
    one, two = SCORES / "waltz-slow-afternoon.musicxml", folder / "waltz.musicxml"
    two.write_bytes(shortened(one.read_bytes()))
    out = folder / "page.html"
    assert main(["compare", str(one), str(two), "-o", str(out)]) == 0
    return out


@pytest.fixture(params=["review", "comparison"])
def file(request: pytest.FixtureRequest) -> Path:
    found: Path = request.getfixturevalue(request.param)
    return found


def content(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(page.locator("#content").text_content() or "")
    return found


def test_nothing_is_wider_than_a_narrow_screen(browser: Opened, file: Path) -> None:
    page = browser.page(file, width=400)
    page.keyboard.press("n")
    expect(page.locator("#chosen")).to_be_in_viewport()
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    page.keyboard.press("Escape")
    for opener in page.locator("summary:visible, #copy:visible").all():
        opener.click()
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    page.close()


@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_every_text_has_contrast_enough(browser: Opened, file: Path, *, is_dark: bool) -> None:
    page = browser.page(file, is_dark=is_dark)
    page.locator("html[data-drawn=all]").wait_for()
    page.keyboard.press("n")
    found = page.evaluate(CONTRAST)
    assert found["seen"] > 100
    assert found["poor"] == []
    page.close()


def test_everything_has_a_name_for_a_screen_reader(browser: Opened, file: Path) -> None:
    page = browser.page(file)
    page.keyboard.press("n")
    for summary in page.locator("summary:visible").all():
        summary.click()
    assert page.evaluate(UNNAMED) == []
    expect(page.get_by_role("main", name="The two scores")).to_have_count(1)
    expect(page.get_by_role("heading", level=1)).to_have_count(1)
    expect(page.get_by_role("list").first).to_be_attached()
    assert page.locator("html").get_attribute("lang") == "en"
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map(one => one.id)")
    assert len(ids) == len(set(ids))
    page.close()


def test_it_prints_all_of_both_scores_and_no_buttons(browser: Opened, file: Path) -> None:
    page = browser.page(file)
    page.locator("html[data-drawn=all]").wait_for()
    page.emulate_media(media="print")
    for hidden in ("#bar", "#filters", "#chosen"):
        expect(page.locator(hidden)).to_be_hidden()
    rows = len(content(page)["rows"])
    assert page.locator(".row:visible").count() == rows
    assert page.locator(".system svg").count() == page.locator(".system").count()
    expect(page.locator("#list li").last).to_be_visible()
    assert len(page.pdf(format="A4")) > 20_000
    page.close()


def test_side_by_side_and_one_above_the_other(browser: Opened, review: Path) -> None:
    page = browser.page(review)
    for layout, is_beside in (("beside", True), ("above", False)):
        page.locator(f"[data-layout={layout}]").click()
        one, two = (
            page.locator(f".row .{side}").first.bounding_box() for side in ("before", "after")
        )
        assert one is not None
        assert two is not None
        assert (one["y"] == two["y"]) is is_beside
    page.close()


def test_measures_that_one_score_lacks_leave_a_gap_in_a_comparison(
    browser: Opened, comparison: Path
) -> None:
    page = browser.page(comparison)
    page.locator("html[data-drawn=all]").wait_for()
    found = content(page)
    assert any(column[2] < 0 for column in found["columns"])
    assert page.locator(".after .none").count() == sum(not row["after"] for row in found["rows"])
    assert page.locator(".after .none").count() >= 1
    expect(page.locator("#deciding")).to_be_hidden()
    classes = {entry["rule"] for entry in found["entries"]}
    assert {"structure", "notes"} <= classes
    page.select_option("#by-rule", "notes")
    wanted = sum(entry["rule"] == "notes" for entry in found["entries"])
    expect(page.locator("#list li:visible")).to_have_count(wanted)
    page.locator("#list button:visible").first.click()
    expect(page.locator(".before .halo")).to_have_count(1)
    page.locator("#play").click()
    page.locator(".lit").first.wait_for(state="attached")
    page.close()


def test_no_text_of_a_score_can_run_or_become_markup(browser: Opened, tmp_path: Path) -> None:
    source = hostile_score(tmp_path)
    page_file = converted(source)
    compared = tmp_path / "compared.html"
    result = source.with_name(f"{source.stem}.lever.musicxml")
    assert main(["compare", str(source), str(result), "-o", str(compared)]) == 0
    for file in (page_file, compared):
        page = browser.page(file)
        page.locator("html[data-drawn=all]").wait_for()
        expect(page.locator("h1")).to_have_text(HOSTILE)
        assert page.locator(".system", has_text="window.hacked").count() >= 1
        page.keyboard.press("n")
        for button in page.locator("#list button").all()[:12]:
            button.click()
        if page.locator("#copy").is_visible():
            page.locator("#copy").click()
        assert page.evaluate("window.hacked === undefined")
        assert page.locator("img, iframe, object, embed, foreignObject, a:not(.skip)").count() == 0
        assert page.locator("script").count() == 3
        on = "[...document.querySelectorAll('*')].some(e => [...e.attributes].some("
        assert page.evaluate(f"{on}a => a.name.startsWith('on')))") is False
        page.close()
