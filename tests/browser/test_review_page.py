"""The review page in a real browser: seen, walked through, filtered, decided on, heard."""

import json
import re
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect
from review_pages import CHROMIUM, SCORES, Opened, converted, opened

from arrange.cli import main
from arrange.decisions import read_decisions

pytestmark = pytest.mark.skipif(not CHROMIUM.exists(), reason="Debian's chromium is not installed")

AUTHOR = 'E"M\\'
DECIDED = "1 declined, 1 chosen otherwise, 3 pinned."


@pytest.fixture(scope="module")
def browser() -> Iterator[Opened]:
    with opened() as found:
        yield found


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    source = tmp_path_factory.mktemp("review") / "boat.musicxml"
    shutil.copy(SCORES / "barcarolle-glissandi.musicxml", source)
    return converted(source)


@pytest.fixture(scope="module")
def shared(browser: Opened, file: Path) -> Iterator[Page]:
    """One page for all tests that leave it as they found it."""
    page = browser.page(file)
    yield page
    page.close()


@pytest.fixture
def page(shared: Page) -> Page:
    shared.evaluate("() => { localStorage.clear(); }")
    shared.reload()
    shared.locator(".system svg").first.wait_for()
    return shared


def summary(file: Path) -> dict[str, Any]:
    name = file.name.replace("review.html", "summary.json")
    found: dict[str, Any] = json.loads(file.with_name(name).read_text("utf-8"))
    return found


def entries(page: Page) -> list[dict[str, Any]]:
    content: dict[str, Any] = json.loads(page.locator("#content").text_content() or "")
    found: list[dict[str, Any]] = content["entries"]
    return found


def listed(page: Page, place: int) -> Locator:
    return page.locator("#list button").nth(place)


def test_all_of_both_scores_is_there_and_every_change_is_listed(page: Page, file: Path) -> None:
    page.locator("html[data-drawn=all]").wait_for()
    content = json.loads(page.locator("#content").text_content() or "")
    for side, place in (("before", 1), ("after", 2)):
        measures = page.locator(f".{side} .measure")
        assert measures.count() == sum(column[place] >= 0 for column in content["columns"])
    told = summary(file)
    expect(page.locator("#list li")).to_have_count(len(told["changes"]) + len(told["open"]))
    expect(page.locator(".figures")).to_contain_text(f"{len(told['levers']['moves'])} lever move")


def test_a_change_of_the_list_is_shown_in_both_scores(page: Page) -> None:
    place, entry = next((i, e) for i, e in enumerate(entries(page)) if e["before"] and e["after"])
    listed(page, place).click()
    expect(listed(page, place)).to_have_attribute("aria-current", "true")
    for side in ("before", "after"):
        expect(page.locator(f".{side} .frame")).to_have_count(1)
        assert page.locator(f".{side} .halo").count() == len(entry[side])
        expect(page.locator(f".{side} .frame")).to_be_in_viewport()
    expect(page.locator("#chosen-body")).to_contain_text(entry["why"])


def test_every_tinted_note_is_of_a_change_and_leads_to_it(page: Page) -> None:
    found = entries(page)
    page.locator("html[data-drawn=all]").wait_for()
    tinted = page.locator(".after .note.touched").evaluate_all("all => all.map(one => one.id)")
    told = {f"a-{name}" for entry in found for name in entry["after"] if name[0] == "n"}
    assert set(tinted) == told
    assert tinted
    name = tinted[-1]
    page.locator(f"[id='{name}'] use").first.click(force=True)
    current = page.locator("#list button[aria-current=true]")
    place = page.locator("#list button").evaluate_all(
        "all => all.findIndex(one => one.getAttribute('aria-current'))"
    )
    expect(current).to_be_in_viewport()
    assert name.removeprefix("a-") in found[place]["after"]


def test_single_keys_step_decide_undo_and_close(page: Page) -> None:
    many = page.locator("#list li").count()
    page.keyboard.press("n")
    expect(page.locator("#position")).to_have_text(f"1 of {many}")
    page.keyboard.press("p")
    expect(page.locator("#position")).to_have_text(f"{many} of {many}")
    page.keyboard.press("n")
    page.keyboard.press("d")
    expect(page.locator("#decided")).to_have_text("1 declined.")
    page.keyboard.press("u")
    expect(page.locator("#decided")).to_have_text("Nothing is decided yet.")
    page.keyboard.press("Escape")
    expect(page.locator("#chosen")).to_be_hidden()
    page.locator("#keys summary").click()
    page.locator("#keys-on").uncheck()
    page.keyboard.press("n")
    expect(page.locator("#chosen")).to_be_hidden()


def test_the_keyboard_alone_reaches_the_list_and_its_focus_is_seen(page: Page) -> None:
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    listed(page, 0).focus()
    page.keyboard.press("ArrowDown")
    expect(listed(page, 1)).to_be_focused()
    outline = listed(page, 1).evaluate("one => getComputedStyle(one).outlineWidth")
    assert outline == "3px"
    page.keyboard.press("Enter")
    expect(listed(page, 1)).to_have_attribute("aria-current", "true")


@pytest.mark.parametrize(
    ("field", "of"), [("by-rule", "rule"), ("by-fidelity", "fidelity"), ("by-outcome", "outcome")]
)
def test_filters_show_what_they_name(page: Page, field: str, of: str) -> None:
    found = entries(page)
    value = found[len(found) // 2][of]
    page.select_option(f"#{field}", value)
    wanted = sum(entry[of] == value for entry in found)
    expect(page.locator("#list li:visible")).to_have_count(wanted)
    expect(page.locator("#count")).to_have_text(f"{wanted} of {len(found)} entries shown")


def test_a_range_of_measures_filters_and_an_unknown_measure_is_said(page: Page) -> None:
    found = entries(page)
    page.fill("#from-measure", "10")
    page.fill("#to-measure", "20")
    wanted = sum(9 <= entry["column"] <= 19 for entry in found)
    assert 0 < wanted < len(found)
    expect(page.locator("#list li:visible")).to_have_count(wanted)
    page.fill("#to-measure", "nowhere")
    expect(page.locator("#count")).to_have_text("There is no measure with that number.")
    page.locator("#all").click()
    expect(page.locator("#list li:visible")).to_have_count(len(found))


def test_the_map_leads_to_its_measure(page: Page) -> None:
    box = page.locator("#strip svg").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] - 3, box["y"] + 20)
    expect(page.locator(".row").last).to_be_in_viewport()
    page.fill("#go-to", "1")
    page.keyboard.press("Enter")
    expect(page.locator(".row").first).to_be_in_viewport()


def test_the_drawn_harp_stands_as_the_summary_says_at_every_measure(
    page: Page, file: Path
) -> None:
    told = summary(file)["levers"]
    assert told["moves"]
    standing = {lever["string"]: lever["position"] for lever in told["initial"]}
    assert levers(page) == standing
    last = told["moves"][-1]
    assert all(move["passes"] is None for move in told["moves"])
    after = next(
        c for c in json.loads(page.locator("#content").text_content() or "")["columns"][::-1]
    )
    for move in told["moves"]:
        standing[move["string"]] = move["position"]
    if last["index"] < after[2]:
        page.fill("#go-to", after[0])
        page.locator("#go").click()
        expect(page.locator("#harp-place")).to_have_text(f"at measure {after[0]}")
        assert levers(page) == standing
    expect(page.locator("#harps .harp")).to_have_attribute("role", "img")


def levers(page: Page) -> dict[str, str]:
    found: dict[str, str] = page.locator(".harp .lever").evaluate_all(
        """all => Object.fromEntries(all.map(one => [
             one.id.split("-").pop(), one.classList.contains("up") ? "up" : "down"]))"""
    )
    return found


def decide(page: Page) -> dict[str, Any]:
    """Decline one change, choose otherwise in another, pin a lever, the key and a note."""
    found = entries(page)
    page.fill("#who", AUTHOR)
    declined, chosen = (
        next(i for i, e in enumerate(found) if e["rule"] == rule and _is_free(e))
        for rule in ("fold-into-compass", "set-levers")
    )
    listed(page, declined).click()
    page.locator("[data-decide=decline]").click()
    expect(page.locator("[data-decide=decline]")).to_have_attribute("aria-pressed", "true")
    expect(listed(page, declined)).to_contain_text("Declined")
    listed(page, chosen).click()
    page.locator("#chosen-body input[type=radio]:not(:checked)").last.click()
    expect(page.locator("#chosen-body input[type=radio]").last).to_be_focused()
    expect(listed(page, chosen)).to_contain_text("Chosen otherwise")
    page.locator("#pins summary").click()
    page.fill("#pin-measure", "2")
    page.locator("#pin-lever-now").click()
    page.locator("#pin-key-now").click()
    page.locator(".before .note:not(.touched) use").first.click(force=True)
    expect(page.locator("#pin-note-now")).to_be_enabled()
    page.locator("#pin-note-now").click()
    expect(page.locator("#decided")).to_have_text(DECIDED)
    return found[declined]


def _is_free(entry: dict[str, Any]) -> bool:
    return any(option["choosable"] for option in entry["options"])


def test_decisions_are_saved_to_a_file_that_a_conversion_takes(
    page: Page, file: Path, tmp_path: Path
) -> None:
    declined = decide(page)
    with page.expect_download() as download:
        page.locator("#save").click()
    saved = tmp_path / download.value.suggested_filename
    download.value.save_as(saved)
    assert saved.name == "boat.decisions.toml"
    table = tomllib.loads(saved.read_text("utf-8"))
    assert table["decline"][0]["change"] == declined["id"]
    assert {row["by"] for name in ("decline", "choose", "pin") for row in table[name]} == {AUTHOR}
    out = tmp_path / "out.musicxml"
    options = ["-o", str(out), "--decisions", str(saved), "--review"]
    assert main(["convert", str(file.with_name("boat.musicxml")), *options]) in (0, 3)
    told = json.loads((tmp_path / "out.summary.json").read_text("utf-8"))["decisions"]
    outcomes = [entry["outcome"] for entry in told["entries"]]
    assert len(outcomes) == 5
    assert "STALE" not in outcomes
    assert outcomes[0] == "APPLIED"
    page.goto((tmp_path / "out.review.html").as_uri())
    expect(page.locator("#decided")).to_have_text(DECIDED)
    page.locator("#copy").click()
    again = tmp_path / "again.toml"
    again.write_text(page.locator("#as-text").input_value(), "utf-8")
    assert read_decisions(again).entries == read_decisions(saved).entries
    page.goto(file.as_uri())


def test_decisions_are_kept_between_visits_and_rubbish_in_their_place_is_not_taken(
    page: Page,
) -> None:
    page.keyboard.press("n")
    page.keyboard.press("a")
    page.locator("#decline-all").click()
    page.reload()
    expect(page.locator("#decided")).to_have_text("everything declined, 1 accepted.")
    page.evaluate(
        "it => Object.keys(localStorage).forEach(key => localStorage.setItem(key, it))",
        '{"rows": [{"table": "pin", "row": 7}, null], "by": 3}',
    )
    page.reload()
    expect(page.locator("#decided")).to_have_text("Nothing is decided yet.")


def test_what_falls_with_a_change_is_named(page: Page) -> None:
    found = entries(page)
    child = next(entry for entry in found if entry["depends"])
    place = next(i for i, e in enumerate(found) if e["id"] == child["depends"][0])
    listed(page, place).click()
    expect(page.locator("#chosen-body p", has_text="Falls with it")).to_be_visible()
    page.locator("#chosen-body ul .link").first.click()
    expect(page.locator("#chosen-body")).to_contain_text("Depends on:")


@pytest.mark.parametrize("side", ["after", "before", "turn"])
def test_it_plays_from_the_chosen_measure_and_lights_its_notes(page: Page, side: str) -> None:
    page.select_option("#heard", side)
    page.select_option("#speed", "0.5")
    page.fill("#go-to", "4")
    page.locator("#go").click()
    page.locator("#play").click()
    expect(page.locator("#play")).to_have_attribute("aria-pressed", "true")
    lit = page.locator(".lit").first
    lit.wait_for(state="attached")
    assert re.match(r"[ab]-n-\w+-[34]-\d+", lit.get_attribute("id") or "")
    assert (lit.get_attribute("id") or "")[0] == ("a" if side == "after" else "b")
    page.locator("#play").click()
    expect(page.locator(".lit")).to_have_count(0)
