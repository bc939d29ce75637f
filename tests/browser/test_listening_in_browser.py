"""The player in a real browser: it plays from disk, in tune, never too loud, and says so."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, sync_playwright
from review_pages import ARGUMENTS, CHROMIUM

import corpus
from arrange.report.listening import listening_script, timeline
from arrange.score.document import Document
from arrange.score.reading import Reading

SCORE = Path(corpus.__file__).parent / "barcarolle-glissandi.musicxml"
RATE = 44100

pytestmark = pytest.mark.skipif(not CHROMIUM.exists(), reason="Debian's chromium is not installed")

BUTTONS = """
const told = [];
const telling = (kind) => (...row) => told.push([kind, ...row]);
const calls = { onNote: telling("note"), onMeasure: telling("measure"), onTurn: telling("turn") };
const player = new Listening(heard, calls);
const turns = new InTurn(heard, heard, calls);
document.getElementById("play").onclick = () => player.play(2);
document.getElementById("turn").onclick = () => turns.play(1);
document.getElementById("still").onclick = () => { player.pause(); turns.pause(); };
"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """A page with the player in it, opened from disk; it must not complain."""
    heard = timeline(Reading(Document.read(SCORE.read_bytes(), SCORE.name)).score())
    file = tmp_path_factory.mktemp("listening") / "page.html"
    file.write_text(
        "<!DOCTYPE html><html lang='en'><meta charset='utf-8'><title>Listening</title>"
        "<button id='play'>Play</button><button id='turn'>In turn</button>"
        "<button id='still'>Pause</button>"
        f"<script>{listening_script()}\nconst heard = {json.dumps(heard)};\n{BUTTONS}</script>",
        encoding="utf-8",
    )
    complaints: list[str] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        shown = browser.new_page()
        shown.on("console", lambda message: complaints.append(message.text))
        shown.on("pageerror", lambda error: complaints.append(str(error)))
        shown.goto(file.as_uri())
        yield shown
        browser.close()
    assert complaints == []


def rendered(page: Page, work: str, seconds: float) -> dict[str, Any]:
    """What the whole way from string to ear gives, and how loud and how smooth it is."""
    return page.evaluate(  # type: ignore[no-any-return] # JSON
        f"""async () => {{
          const rate = {RATE};
          const context = new OfflineAudioContext(2, {seconds} * rate, rate);
          const course = new Course(heard);
          const plucking = new Plucking(context);
          {work}
          const samples = (await context.startRendering()).getChannelData(0);
          let [peak, square] = [0, 0];
          for (const one of samples) {{
            peak = Math.max(peak, Math.abs(one));
            square += one * one;
          }}
          return {{ peak, mean: Math.sqrt(square / samples.length), samples: found(samples),
            isSound: samples.every(Number.isFinite) }};
        }}"""
    )


def test_nothing_is_made_before_the_first_click_and_then_it_plays(page: Page) -> None:
    assert page.evaluate("player.state.playing") is False
    page.click("#play")
    page.wait_for_function("player.state.playing && told.some(([kind]) => kind === 'note')")
    first = page.evaluate("player.state")
    assert page.evaluate("told[0]") == ["measure", 2, 1, None]
    page.wait_for_function(f"player.state.at > {first['at'] + 0.3}")
    page.evaluate("player.speed(2)")
    assert page.evaluate("player.state.speed") == 2
    page.evaluate("player.seek(5)")
    assert page.evaluate("player.state.index") == 5
    page.click("#still")
    assert page.evaluate("player.state.playing") is False
    notes = page.evaluate("told.filter(([kind]) => kind === 'note')")
    lit = [name for _, name, on, *_ in notes if on]
    out = [name for _, name, on, *_ in notes if not on]
    assert sorted(lit) == sorted(out)


def test_both_scores_are_heard_in_turn(page: Page) -> None:
    page.evaluate("told.length = 0; turns.speed(2)")
    page.click("#turn")
    page.wait_for_function("told.filter(([kind]) => kind === 'turn').length >= 2")
    page.click("#still")
    turns = page.evaluate("told.filter(([kind]) => kind === 'turn').map((row) => row[1])")
    assert turns[:2] == ["before", "after"]


@pytest.mark.parametrize("midi", [45, 57, 69, 81, 93])
def test_a_string_is_in_tune_at_the_ear(page: Page, midi: int) -> None:
    work = f"""
      plucking.pluck({{ midi: {midi}, touch: "", loudness: 90 }}, course.ring({midi}), 0.02);
      const found = (samples) => {{
        const wanted = Plucking.hertz({midi});
        const spans = Math.round(0.02 * wanted);
        const alike = (lag) => {{
          let sum = 0;
          for (let i = 4410; i < 13230; i += 1) sum += samples[i] * samples[i + lag];
          return sum;
        }};
        let best = Math.round((rate / wanted) * spans);
        const from = best;
        const third = Math.ceil(rate / wanted / 3);
        for (let lag = from - third; lag <= from + third; lag += 1) {{
          if (alike(lag) > alike(best)) best = lag;
        }}
        const [low, top, high] = [alike(best - 1), alike(best), alike(best + 1)];
        const exact = best + (low - high) / (2 * (low - 2 * top + high));
        return 1200 * Math.log2((rate * spans) / exact / wanted);
      }};"""
    found = rendered(page, work, 0.5)
    assert abs(found["samples"]) < 3
    assert found["isSound"]
    assert found["mean"] > 0.01


def test_every_string_at_its_loudest_stays_below_one(page: Page) -> None:
    work = """
      for (let midi = 36; midi < 94; midi += 1) {
        plucking.pluck({ midi, touch: "", loudness: 127 }, course.ring(midi), 0.05);
      }
      const found = () => 0;"""
    found = rendered(page, work, 1)
    assert found["isSound"]
    assert 0.5 < found["peak"] < 1


def test_a_stopped_string_falls_silent_without_a_click(page: Page) -> None:
    work = """
      const voice = plucking.pluck({ midi: 48, touch: "", loudness: 100 }, course.ring(48), 0.05);
      voice.stop(0.6);
      const found = (samples) => {
        let [step, before, after] = [0, 0, 0];
        for (let i = 1; i < samples.length; i += 1) {
          const at = i / rate;
          if (at > 0.59 && at < 1) step = Math.max(step, Math.abs(samples[i] - samples[i - 1]));
          if (at > 0.4 && at < 0.55) before = Math.max(before, Math.abs(samples[i]));
          if (at > 2.4) after = Math.max(after, Math.abs(samples[i]));
        }
        return { step, before, after };
      };"""
    found = rendered(page, work, 2.5)["samples"]
    assert found["after"] < found["before"] / 300
    assert found["step"] < found["before"] / 3


def test_the_opening_of_a_score_is_heard_whole(page: Page) -> None:
    work = """
      const sounding = new Listening.Sounding(course, plucking);
      for (const event of course.events.filter(({ at }) => at < 6)) {
        sounding.send(event, Math.max(event.at + 0.2, 0));
      }
      const found = () => course.plucks.filter(({ at }) => at < 6).length;"""
    found = rendered(page, work, 6)
    assert found["samples"] > 10
    assert found["isSound"]
    assert 0.02 < found["mean"] < found["peak"] < 1
