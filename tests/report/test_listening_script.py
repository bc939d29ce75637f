"""The player's own logic, run in node: strings in tune, the course, speed, seeking, in turn.

A browser plays the same script in ``tests/browser``; here the sound card is a stage whose clock
is turned by hand.
"""

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from heard_scores import BACKWARD, n, score
from notation import read

from arrange.check import HarpInstructions, Instruction, Instructions
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.report.listening import listening_script, timeline
from arrange.score.model import HandName
from arrange.units import Quarters

NODE = shutil.which("node")
STAGE = (Path(__file__).parent / "listening_stage.js").read_text("utf-8")
HARP = load_harp("lever-34").harp
LEAD = 0.08
"""What the player lets pass before its first sound, in seconds."""

pytestmark = pytest.mark.skipif(NODE is None, reason="there is no node on this machine")


def ran(work: str, stage: str = "", **known: Any) -> Any:
    """What *work*, the inside of an asynchronous function, returns."""
    names = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in known.items())
    script = (
        f"{listening_script()}\n{stage}\n{names}"
        f"(async () => {{ {work} }})().then((found) => console.log(JSON.stringify(found)));"
    )
    done = subprocess.run(
        [str(NODE), "-"], input=script, text=True, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def scale() -> dict[str, Any]:
    """Eight quarters at 60, with a repeat: every one another pitch."""
    return timeline(
        score(
            n("C4") + n("D4") + n("E4") + n("F4"), n("G4") + n("A4") + n("B4") + n("C5") + BACKWARD
        )
    )


def moving() -> dict[str, Any]:
    """Two measures; the lever of C5 goes up on the third quarter of the first."""
    found = read("tempo=60\nRH: C5h G4h | C#5w").score()
    setting = {s.name: Position.DOWN for s in HARP.strings if s.raised is not None}
    move = Instruction("P1", "C5", Position.UP, 0, Quarters(3), HandName.LEFT)
    return timeline(found, HARP, Instructions((HarpInstructions(setting, (move,)),)))


MEASURING = """
const period = (samples, frequency, rate) => {
  const spans = Math.max(1, Math.round(0.02 * frequency));
  const from = Math.round(0.05 * rate);
  const count = Math.round(0.15 * rate);
  const alike = (lag) => {
    let sum = 0;
    for (let i = from; i < from + count; i += 1) sum += samples[i] * samples[i + lag];
    return sum;
  };
  const near = Math.round((rate / frequency) * spans);
  let best = near;
  const third = Math.ceil(rate / frequency / 3);
  for (let lag = near - third; lag <= near + third; lag += 1) {
    if (alike(lag) > alike(best)) best = lag;
  }
  const [low, top, high] = [alike(best - 1), alike(best), alike(best + 1)];
  return (best + (low - high) / (2 * (low - 2 * top + high))) / spans;
};
const loudness = (samples, at, rate) => {
  let sum = 0;
  const from = Math.round(at * rate);
  const count = Math.round(0.05 * rate);
  for (let i = from; i < from + count && i < samples.length; i += 1) sum += samples[i] ** 2;
  return 10 * Math.log10(sum / count + 1e-12);
};
"""


@pytest.mark.parametrize("touch", ["", "table", "harmonic", "damped", "swept"])
def test_strings_are_in_tune_within_three_cents_and_sound(touch: str) -> None:
    work = f"""{MEASURING}
    const course = new Course(scale);
    const found = [];
    for (const rate of [44100, 48000]) {{
      for (let midi = 45; midi <= 93; midi += 6) {{
        const samples = Plucking.rendered(midi, "{touch}", course.ring(midi), rate);
        const wanted = Plucking.hertz(midi);
        const lag = period(samples, wanted, rate);
        const peak = samples.reduce((most, one) => Math.max(most, Math.abs(one)), 0);
        found.push([1200 * Math.log2(rate / lag / wanted), peak, samples.every(Number.isFinite)]);
      }}
    }}
    return found;"""
    found = ran(work, scale=scale())
    assert len(found) == 2 * 9
    assert max(abs(cents) for cents, _, _ in found) < 3
    assert all(0.3 < peak < 1 and is_sound for _, peak, is_sound in found)


def test_a_low_string_rings_longer_than_a_high_one() -> None:
    work = f"""{MEASURING}
    const course = new Course(scale);
    return [36, 48, 60, 72, 84, 96].map((midi) => {{
      const samples = Plucking.rendered(midi, "", course.ring(midi), 44100);
      const first = loudness(samples, 0.02, 44100);
      let at = 0.02;
      while (loudness(samples, at, 44100) > first - 30) at += 0.02;
      return at;
    }});"""
    times = ran(work, scale=scale())
    assert times == sorted(times, reverse=True)
    assert times[0] > 3
    assert times[-1] < 0.6


def test_a_measure_is_found_by_its_pass_and_by_what_follows_it() -> None:
    work = """
    const course = new Course(scale);
    return [course.find(1), course.find(1, 2), course.find(0, 9), course.find(7),
      [0, 3.999, 4, 15.9, 99].map((at) => course.placeAt(at))];"""
    assert ran(work, scale=scale()) == [1, 3, 0, -1, [0, 0, 1, 3, 3]]


def test_levers_stand_as_they_were_moved() -> None:
    work = """
    const course = new Course(moving);
    return [0, 2.9, 3, 9].map((at) => course.leversAt(at)[0].C5);"""
    assert ran(work, moving=moving()) == ["down", "down", "up", "up"]


def test_the_player_plays_from_a_measure_and_lights_its_notes() -> None:
    work = """
    const player = new Listening(scale, calls);
    await player.play(1, 2);
    run(2.5);
    const { playing, place, index, pass } = player.state;
    player.pause();
    return { heard: heard(), told, state: [playing, place, index, pass, player.state.playing] };"""
    found = ran(work, STAGE, scale=scale())
    first = [[67, LEAD], [69, 1 + LEAD], [71, 2 + LEAD]]
    assert found["heard"] == first
    assert found["told"][0] == ["measure", 1, 2]
    notes = [tuple(row[1:3]) for row in found["told"] if row[0] == "note"]
    assert notes == [
        ("n-P1-1-0", True),
        ("n-P1-1-0", False),
        ("n-P1-1-1", True),
        ("n-P1-1-1", False),
        ("n-P1-1-2", True),
        ("n-P1-1-2", False),
    ]
    assert found["state"] == [True, 3, 1, 2, False]


def test_a_start_takes_the_small_notes_before_the_barline_and_nothing_else() -> None:
    text = "tempo=240\nRH: rw | gA4e G4w\nLH: C3h. D3e. E3s | C3w"
    found = timeline(read(text).score())
    work = """
    const player = new Listening(small, calls);
    await player.play(1);
    run(1);
    return { heard: heard().map(([midi]) => midi), told };"""
    played = ran(work, STAGE, small=found)
    assert played["heard"] == [69, 48, 67]
    assert played["told"][0] == ["measure", 1, 1]
    assert {row[1] for row in played["told"] if row[0] == "note"} == {
        "n-P1-1-0",
        "n-P1-1-1",
        "n-P1-1-2",
    }


def test_a_change_of_speed_holds_at_once_and_exactly() -> None:
    work = """
    const player = new Listening(scale, calls);
    await player.play(0);
    run(1.58);
    const before = player.state.at;
    player.speed(2);
    run(4);
    return { before, after: player.state.at, heard: heard() };"""
    found = ran(work, STAGE, scale=scale())
    assert found["before"] == pytest.approx(1.5)
    assert found["after"] == pytest.approx(1.5 + 2 * (4 - 1.58))
    turn = 1.58
    expected = [[60, LEAD], [62, 1 + LEAD]] + [
        [midi, round(turn + (at - 1.5) / 2, 3)]
        for at, midi in enumerate((64, 65, 67, 69, 71, 72, 60, 62), 2)
    ]
    assert found["heard"][: len(expected)] == expected


def test_seeking_while_playing_goes_there_and_tells_the_levers() -> None:
    work = """
    const player = new Listening(moving, calls);
    await player.play(0);
    run(1);
    player.seek(1);
    run(1.5);
    const there = told.filter(([kind]) => kind !== "note");
    player.seek(0);
    return { there, back: told.at(-1), levers: player.state.levers[0].C5, heard: heard() };"""
    found = ran(work, STAGE, moving=moving())
    assert found["there"] == [
        ["measure", 0, 1],
        ["measure", 1, 1],
        ["lever", "C5", "up", 0],
    ]
    assert found["back"] == ["lever", "C5", "down", 0]
    assert found["levers"] == "down"
    assert [midi for midi, _ in found["heard"]] == [72, 73, 72]


def test_a_pause_goes_on_where_it_was() -> None:
    work = """
    const player = new Listening(scale, calls);
    await player.play(0);
    run(1.58);
    player.pause();
    run(5);
    await player.play();
    run(6);
    return { heard: heard(), at: player.state.at };"""
    found = ran(work, STAGE, scale=scale())
    expected = [[60, LEAD], [62, 1 + LEAD], [64, 5.58], [65, 6.58], [67, 7.58]]
    assert found["heard"][:4] == expected[:4]
    assert found["at"] == pytest.approx(1.5 + 1 - LEAD)


def test_a_string_that_is_plucked_again_stops_its_former_sound() -> None:
    again = timeline(score(n("C4") + n("D4") + n("C4") + n("D4")))
    work = """
    const player = new Listening(again, calls);
    await player.play();
    run(5);
    const shown = (time) => (time === null ? null : Math.round(time * 1000) / 1000);
    return asked.map(({ midi, stopped, quickly }) => [midi, shown(stopped), quickly]);"""
    found = ran(work, STAGE, again=again)
    assert found == [[60, 2.08, True], [62, 3.08, True], [60, None, False], [62, None, False]]


def test_a_lever_is_told_at_its_moment_and_the_end_once() -> None:
    work = """
    const player = new Listening(moving, calls);
    await player.play();
    run(3);
    const early = told.filter(([kind]) => kind === "lever").length;
    run(3.2);
    const late = told.filter(([kind]) => kind === "lever");
    run(20);
    return { early, late, ends: told.filter(([kind]) => kind === "end").length,
      playing: player.state.playing };"""
    found = ran(work, STAGE, moving=moving())
    assert found == {"early": 0, "late": [["lever", "C5", "up", 0]], "ends": 1, "playing": False}


@pytest.mark.parametrize(
    ("every", "expected"),
    [
        (1, ["before 0.1", "after 0.1", "before 1.1", "after 1.1"]),
        (2, ["before 0.1", "before 1.1", "after 0.1", "after 1.1"]),
    ],
)
def test_two_scores_sound_in_turn(every: int, expected: list[str]) -> None:
    work = """
    const woven = weave(new Course(before), new Course(after), { every });
    return {
      order: woven.measures.map((m) => `${m.side} ${m.index}.${m.pass}`).slice(0, 4),
      starts: woven.measures.map((m) => m.at),
      sounds: woven.plucks.map((row) => [row[0], row[3], row[10]]).slice(0, 8),
      last: Math.max(...woven.plucks.map((row) => row[2])),
      end: woven.end,
    };"""
    before = scale()
    after = timeline(score(n("D4", 16), n("E4", 16) + BACKWARD))
    found = ran(work, before=before, after=after, every=every)
    assert found["order"] == expected
    assert found["starts"] == [4.0 * i for i in range(8)]
    assert found["end"] == found["last"] == 32
    first = [[0, 60, "before"], [1, 62, "before"], [2, 64, "before"], [3, 65, "before"]]
    assert found["sounds"][:4] == first
    assert found["sounds"][4] == ([4, 62, "after"] if every == 1 else [4, 67, "before"])


def test_measures_that_one_score_lacks_sound_alone() -> None:
    work = """
    const courses = [new Course(before), new Course(after)];
    const pairs = [[0, 0], [null, 1], [1, 2]];
    const named = ({ side, index }) => `${side} ${index}`;
    return [weave.paired(...courses), weave(...courses, { pairs }).measures.map(named)];"""
    before = timeline(score(n("C4", 16), n("D4", 16)))
    after = timeline(score(n("C4", 16), n("E4", 16), n("D4", 16)))
    paired, told = ran(work, before=before, after=after)
    assert paired == [[0, 0], [1, 1], [None, 2]]
    assert told == ["before 0", "after 0", "after 1", "before 1", "after 2"]


def test_in_turn_begins_anywhere_and_says_whose_turn_it_is() -> None:
    work = """
    const player = new InTurn(before, after, { ...calls, every: 1 });
    await player.play(1);
    run(4.5);
    const { side, index, playing } = player.state;
    player.pause();
    return { told: told.filter(([kind]) => kind !== "note"), side, index, playing, heard: heard(),
      lit: told.filter(([kind]) => kind === "note").at(-1) };"""
    before = timeline(score(n("C4", 16), n("D4", 16)))
    found = ran(work, STAGE, before=before, after=moving())
    assert found["told"] == [
        ["lever", "C5", "up", 0, "after"],
        ["turn", "before"],
        ["measure", 1, 1, "before"],
        ["turn", "after"],
        ["measure", 1, 1, "after"],
    ]
    assert (found["side"], found["index"], found["playing"]) == ("after", 1, True)
    assert found["heard"] == [[62, LEAD], [73, 4 + LEAD]]
    assert found["lit"] == ["note", "n-P1-1-0", False, "after"]
