"""An editor's decisions: declined, chosen otherwise, pinned; found again by their content."""

import json
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from notation import to_musicxml

from arrange.apply.replay import replay, replay_without
from arrange.apply.transposing import transpose
from arrange.changes import Change, ChangeLog, LogEntry, Option, Outcome, from_lines, to_lines
from arrange.cli import main
from arrange.decisions import (
    Decision,
    Decisions,
    Kind,
    Place,
    Settling,
    decisions_basis,
    read_decisions,
    write_decisions,
)
from arrange.decisions.places import aligned, fingerprints
from arrange.edits import RemoveNote
from arrange.errors import BadInput
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.pipeline import Conversion, Settings, convert
from arrange.pitch import Pitch
from arrange.registry import installed
from arrange.report.summary import summary
from arrange.rulebook import load_rulebook
from arrange.score.container import Source, read_source, read_source_bytes
from arrange.score.document import Document
from arrange.score.model import EventId
from arrange.score.reading import Reading
from arrange.units import Quarters

CORPUS = Path(__file__).parents[1] / "corpus"
SCORES = sorted(path for path in CORPUS.iterdir() if path.suffix in {".musicxml", ".mxl"})
TRIED = 3
"""So many changes of each score are declined, one after the other."""
FOLDED = "name=Harp\nRH: G4h A4h | G4w\nLH: C2q B1q A1q B1q | C2w"
FAST = "key=-3 tempo=160 name=Harp\nRH: C5e C#5e C5e C#5e C5e C#5e C5e C#5e | C5w\nLH: C3w | C3w"
SLOW = "key=0 tempo=60 name=Harp\nRH: F5h rh | F#5h rh | F5h rh\nLH: C3w | C3w | C3w"


def settings(key: str = "auto") -> Settings:
    file = load_harp("lever-34")
    return Settings(file.harp, load_rulebook("concert", installed(), file.player), key=key)


def source_of(text: str) -> Source:
    return read_source_bytes(to_musicxml(text), "piece.musicxml")


def decided(source: Source, *entries: Decision, key: str = "keep") -> Conversion:
    return convert(source, replace(settings(key), decisions=Decisions(entries=entries)))


@cache
def undecided(path: Path) -> Conversion:
    return convert(read_source(path), settings())


def score_bytes(conversion: Conversion) -> bytes:
    return read_source_bytes(conversion.result, conversion.source.name).score_bytes


def transposed(conversion: Conversion) -> tuple[Document, Reading]:
    """The transposed source."""
    document = Document.read(conversion.source.score_bytes, "")
    reading = Reading(document)
    transpose(document, conversion.transposed_parts, conversion.interval)
    return document, reading


def replayed(conversion: Conversion, entries: Sequence[LogEntry]) -> bytes:
    """The transposed source with what these entries say was applied."""
    document, reading = transposed(conversion)
    replay(document, reading, from_lines(to_lines(ChangeLog(list(entries)))))
    return document.to_bytes()


def outcome_of(conversion: Conversion, change: str) -> Outcome:
    (found,) = [e.outcome for e in conversion.log.entries if e.change.id == change]
    return found


def needing(log: ChangeLog, change: str) -> set[str]:
    """The change and all that name it, or one that names it, as what they need."""
    found = {change}
    for entry in log.entries:
        if found.intersection(entry.change.depends_on):
            found.add(entry.change.id)
    return found


class TestDeclining:
    @pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
    def test_a_change_takes_only_what_needs_it_along(self, path: Path) -> None:
        plain = undecided(path)
        applied = plain.log.applied()
        step = max(1, len(applied) // TRIED)
        for change in applied[step // 2 :: step][:TRIED]:
            document, reading = transposed(plain)
            found = replay_without(document, reading, plain.log, frozenset({change.id}))
            fallen = {
                was.change.id
                for was, now in zip(plain.log.entries, found.entries, strict=True)
                if was.outcome is Outcome.APPLIED and now.outcome is not Outcome.APPLIED
            }
            assert fallen >= needing(plain.log, change.id)
            assert all(
                e.outcome in {Outcome.STALE, Outcome.BLOCKED}
                for e in found.entries
                if e.change.id in fallen - needing(plain.log, change.id)
            )
            stays = [e for e in plain.log.entries if e.change.id not in fallen]
            assert document.to_bytes() == replayed(plain, stays)

    @pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
    def test_every_change_leaves_the_transposed_source(self, path: Path) -> None:
        plain = undecided(path)
        every = frozenset(entry.change.id for entry in plain.log.entries)
        document, reading = transposed(plain)
        assert replay_without(document, reading, plain.log, every).applied() == []
        assert document.to_bytes() == transposed(plain)[0].to_bytes()

    @pytest.mark.parametrize("path", SCORES[::4], ids=lambda path: path.stem)
    def test_a_conversion_without_any_change_is_sound(self, path: Path) -> None:
        plain = undecided(path)
        every = replace(settings(), decisions=Decisions(declines_all=True))
        found = convert(plain.source, every)
        assert found.is_sound, (found.violations, found.unlogged)
        assert found.log.applied() == []
        assert score_bytes(found) == replayed(plain, [])

    def test_a_conversion_without_a_change_is_a_replay_without_it(self) -> None:
        plain = undecided(CORPUS / "bells-three-staves.mxl")
        fold = plain.log.applied()[0]
        asked = Decisions(entries=(Decision(Kind.DECLINE, change=fold.id),))
        found = convert(plain.source, replace(settings(), decisions=asked))
        assert found.is_sound, (found.violations, found.unlogged)
        document, reading = transposed(plain)
        replay_without(document, reading, plain.log, frozenset({fold.id}))
        assert score_bytes(found) == document.to_bytes()

    def test_everything_in_the_same_key_leaves_the_source(self) -> None:
        path = CORPUS / "march-tin-lanterns.musicxml"
        asked = replace(settings("keep"), decisions=Decisions(declines_all=True))
        assert convert(read_source(path), asked).result == path.read_bytes()

    def test_what_cannot_be_played_then_is_an_open_point_by_decision(self) -> None:
        source = source_of(FOLDED)
        fold = convert(source, settings("keep")).log.applied()[0]
        found = decided(source, Decision(Kind.DECLINE, change=fold.id))
        assert outcome_of(found, fold.id) is Outcome.DECLINED
        assert found.is_sound
        assert {p.problem.split(":")[0] for p in found.log.open_points} == {
            "Left by your decision"
        }
        assert {"B1", "A1"} <= {p for point in found.log.open_points for p in point.pitches}

    def test_the_count_of_moves_falls_with_a_move(self) -> None:
        source = source_of(SLOW)
        log = convert(source, settings("keep")).log
        cue = next(c for c in log.applied() if c.rule == "write-lever-cues")
        found = decided(source, Decision(Kind.DECLINE, change=cue.id))
        fallen = {e.change.rule for e in found.log.entries if e.outcome is Outcome.DECLINED}
        assert fallen == {"write-lever-cues", "write-opening"}
        assert b"lever moves" not in found.result

    def test_the_result_is_left_as_it_is_when_it_is_converted_again(self, tmp_path: Path) -> None:
        source = source_of(SLOW)
        log = convert(source, settings("keep")).log
        home = next(c for c in log.applied() if c.rule == "write-lever-cues")
        decision = Decision(Kind.DECLINE, change=home.id)
        found = decided(source, decision)
        path = tmp_path / "again.musicxml"
        path.write_bytes(found.result)
        again = decided(read_source(path), decision, key="auto")
        assert again.is_again
        assert again.result == found.result


def pin(text: str, at: Place) -> Decision:
    return Decision(Kind.NOTE, at, pitch=Pitch.parse(text))


def first_options(conversion: Conversion, rule: str) -> tuple[Change, tuple[Option, ...]]:
    """The first change of a rule that has other ways, and these."""
    for change in conversion.log.applied():
        others = tuple(option for option in change.options if option.is_choosable)
        if change.rule == rule and others:
            return change, others
    raise LookupError(rule)


def choice(conversion: Conversion, change: Change, option: str) -> Decision:
    """The decision as the page writes it."""
    record = decisions_basis(conversion.before, conversion.log)["changes"][change.id]
    place = record["place"] | {"offset": Quarters(record["place"]["offset"])}
    return Decision(Kind.CHOOSE, Place(**place), rule=change.rule, change=change.id, option=option)


class TestPinning:
    def test_a_note_that_would_move_stays_and_is_left_to_the_editor(self) -> None:
        found = decided(source_of(FOLDED), pin("B1", Place("P1", 0, offset=Quarters(1), staff=2)))
        note = EventId("P1", 0, "n3")
        assert str(found.score.notes_by_id[note].pitch) == "B1"
        assert note in found.score.left_open
        assert found.is_sound

    def test_a_result_with_pins_stays_as_it_is_without_the_file(self) -> None:
        found = decided(source_of(FOLDED), pin("B1", Place("P1", 0, offset=Quarters(1), staff=2)))
        again = convert(read_source_bytes(found.result, "piece.lever.musicxml"), settings())
        assert again.is_again
        assert again.result == found.result

    def test_no_rule_takes_a_pinned_note_away(self) -> None:
        text = "name=Harp\nRH: C4+E4+G4+C5+E5w\nLH: C2+G2+C3w"
        plain = convert(source_of(text), settings("keep"))
        (gone,) = [
            edit for c in plain.log.applied() for edit in c.edits if isinstance(edit, RemoveNote)
        ]
        place = Place("P1", 0, offset=gone.before.offset, staff=gone.before.staff)
        found = decided(source_of(text), pin(str(gone.before.pitch), place))
        assert gone.note in found.score.notes_by_id
        assert found.is_sound

    def test_a_key_is_taken_unless_another_is_asked_for(self) -> None:
        source, wanted = source_of(FOLDED), Decision(Kind.KEY, key="M2")
        found = decided(source, wanted, key="auto")
        assert str(found.interval) == "M2"
        other = decided(source, wanted, key="-M2")
        assert str(other.interval) == "-M2"
        assert other.settlement is not None
        assert other.settlement.settled[0].settling is Settling.REFUSED

    def test_a_lever_stands_as_pinned_from_its_place_on(self) -> None:
        source = source_of(
            "key=0 tempo=60 name=Harp\nRH: C5h rh | C5h rh | C5h rh\nLH: C3w | C3w | C3w"
        )
        place = Place("P1", 1, offset=Quarters(2))
        found = decided(source, Decision(Kind.LEVER, place, string="D4", position=Position.UP))
        (harp,) = found.instructions.harps
        assert harp.initial["D4"] is Position.UP
        assert found.is_sound
        plain = convert(source, settings("keep"))
        assert plain.instructions.harps[0].initial["D4"] is Position.DOWN

    def test_a_lever_that_cannot_be_had_is_an_open_point(self) -> None:
        place = Place("P1", 0, offset=Quarters(1, 2))
        pins = [Decision(Kind.LEVER, place, string="D5", position=p) for p in Position]
        found = decided(source_of(FAST), *pins)
        assert any("D5 is pinned" in p.problem for p in found.log.open_points)
        assert found.is_sound

    def test_a_string_that_the_harp_does_not_have_is_refused(self) -> None:
        found = decided(source_of(FAST), Decision(Kind.LEVER, Place("P1", 0), string="C9"))
        assert found.settlement is not None
        assert found.settlement.settled[0].settling is Settling.REFUSED
        assert any("no lever on a string C9" in f.text for f in found.log.findings)


class TestChoosing:
    @pytest.mark.parametrize(
        ("name", "rule"),
        [
            ("barcarolle-glissandi.musicxml", "resolve-glissandi"),
            ("romance-clarinet-harp.musicxml", "free-left-hand"),
            ("waltz-slow-afternoon.musicxml", "set-levers"),
            ("waltz-slow-afternoon.musicxml", "fold-into-compass"),
        ],
    )
    def test_another_way_is_taken_or_refused(self, name: str, rule: str) -> None:
        plain = undecided(CORPUS / name)
        change, others = first_options(plain, rule)
        for option in others[:2]:
            wanted = choice(plain, change, option.key)
            found = decided(plain.source, wanted, key=str(plain.interval))
            assert found.is_sound, (found.violations, found.unlogged)
            assert found.settlement is not None
            (settled,) = found.settlement.settled
            now = {
                way.key
                for c in found.log.applied()
                if c.rule == rule and c.where == change.where
                for way in c.options
                if way.taken
            }
            if settled.settling is Settling.APPLIED:
                assert change.id not in {c.id for c in found.log.applied()}
                assert now <= {option.key}
            else:
                assert settled.settling is Settling.REFUSED
                assert option.key not in now
                assert any(settled.detail in f.text for f in found.log.findings)

    def test_a_way_that_there_is_not_is_refused(self) -> None:
        plain = undecided(CORPUS / "waltz-slow-afternoon.musicxml")
        change, _ = first_options(plain, "set-levers")
        found = decided(plain.source, choice(plain, change, "home-C9-up"), key=str(plain.interval))
        assert found.settlement is not None
        assert found.settlement.settled[0].settling is Settling.REFUSED
        assert score_bytes(found) == score_bytes(plain)


class TestPlaces:
    def test_a_measure_put_in_before_moves_the_decision_along(self) -> None:
        before, after = source_of(FOLDED), source_of(FOLDED.replace(": ", ": E4w | "))
        plain = convert(before, settings("keep"))
        basis = decisions_basis(plain.before, plain.log, sha256="another")
        change = plain.log.applied()[0]
        record = basis["changes"][change.id]
        place = Place(**record["place"] | {"offset": Quarters(record["place"]["offset"])})
        decision = Decision(
            Kind.DECLINE, place, change=change.id, rule=change.rule, anchor=change.anchor
        )
        measures = tuple((p, tuple(r.split())) for p, r in basis["source"]["measures"].items())
        asked = Decisions(sha256="another", measures=measures, entries=(decision,))
        found = convert(after, replace(settings("keep"), decisions=asked))
        assert found.settlement is not None
        assert found.settlement.settled[0].settling is Settling.APPLIED
        assert found.settlement.settled[0].index == 1
        (fold,) = [e for e in found.log.entries if e.change.rule == change.rule]
        assert fold.outcome is Outcome.DECLINED

    def test_a_measure_that_was_altered_makes_it_stale_and_it_is_applied_nowhere(self) -> None:
        plain = convert(source_of(FOLDED), settings("keep"))
        change = plain.log.applied()[0]
        measures = tuple(fingerprints(plain.before).items())
        place = Place("P1", 0, staff=2)
        decision = Decision(
            Kind.DECLINE, place, change=change.id, rule=change.rule, anchor=change.anchor
        )
        asked = Decisions(sha256="another", measures=measures, entries=(decision,))
        altered = source_of(FOLDED.replace("C2q B1q A1q B1q", "C2q B1q A1h"))
        found = convert(altered, replace(settings("keep"), decisions=asked))
        assert found.settlement is not None
        assert found.settlement.settled[0].settling is Settling.STALE
        assert found.settlement.declined == frozenset()
        assert any("not carried out" in finding.text for finding in found.log.findings)

    def test_of_equal_passages_each_keeps_its_place(self) -> None:
        row = list("abcabcabc")
        assert aligned(row, ["x", *row])[4] == 5
        assert aligned(row, row[1:])[4] == 3
        assert aligned(row, [*row[:3], "x", *row[3:]])[7] == 8
        assert 4 not in aligned(row, [*row[:4], "y", *row[5:]])


class TestFiles:
    def test_what_is_written_is_read_again(self, tmp_path: Path) -> None:
        place = Place("P1", 4, "5", Quarters(1, 2), 2, "5", "n0")
        decisions = Decisions(
            file="made.toml",
            source_file='x\u007f"y\\.musicxml',
            sha256="ab" * 32,
            measures=(("P1", ("0123abcd", "4567cdef")),),
            entries=(
                Decision(
                    Kind.DECLINE, place, "EM", "no", "0" * 16, "set-levers", "1" * 16, 2, "S."
                ),
                Decision(Kind.CHOOSE, place, rule="set-levers", option="omit", change="0" * 16),
                Decision(Kind.ACCEPT, place, change="0" * 16),
                Decision(Kind.NOTE, place, pitch=Pitch.parse("C#5")),
                Decision(Kind.KEY, key="-m2"),
                Decision(Kind.LEVER, place, string="D4", position=Position.DOWN),
            ),
        )
        path = tmp_path / "made.toml"
        path.write_text(write_decisions(decisions), encoding="utf-8")
        assert read_decisions(path) == decisions

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ("[[pin]]\nkind = 'note'", "line 3, [[pin]]: 'place' is missing"),
            ("\n[[decline]]\nchange = '1'\n[[decline]]\nwhy = 1", "line 6, [[decline]]: 'why'"),
            ("[[pin]]\nkind = 'key'\nkey = 'up'", "line 3, [[pin]]: "),
            ("[[pin]]\nkind = 'foot'", "kind is one of note, key, lever"),
            ("[[pin]]\nkind = 'note'\npitch = 'H4'\nplace = { part = 'P1', index = 0 }", "line 3"),
            ("pin = 3", "line 3: write each of them as [[pin]]"),
            ("colour = 3", "line 3: 'colour' is no setting"),
            ("[[", "not a TOML file"),
        ],
    )
    def test_a_mistake_is_named_with_its_line(self, text: str, said: str, tmp_path: Path) -> None:
        path = tmp_path / "bad.toml"
        head = "format = 'leverwright-decisions'\nversion = 1\n"
        path.write_text(head + text, encoding="utf-8")
        with pytest.raises(BadInput, match=r"bad\.toml: ") as caught:
            read_decisions(path)
        assert said in str(caught.value)

    def test_the_command_takes_them_and_the_summary_tells(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        score = tmp_path / "piece.musicxml"
        score.write_bytes(to_musicxml(FOLDED))
        plain = convert(read_source(score), settings("keep"))
        fold = plain.log.applied()[0]
        entries = (
            Decision(Kind.DECLINE, change=fold.id, by="EM"),
            Decision(Kind.ACCEPT, change="0" * 16),
        )
        made = tmp_path / "made.toml"
        made.write_text(write_decisions(Decisions(entries=entries)), encoding="utf-8")
        assert main(["convert", str(score), "--key", "keep", "--decisions", str(made)]) == 3
        told = json.loads((tmp_path / "piece.lever.summary.json").read_text("utf-8"))
        schema = (resources.files("arrange.report") / "summary.schema.json").read_text("utf-8")
        assert list(Draft202012Validator(json.loads(schema)).iter_errors(told)) == []
        rows = told["decisions"]["entries"]
        assert [(row["kind"], row["outcome"], row["by"]) for row in rows] == [
            ("decline", "APPLIED", "EM"),
            ("accept", "STALE", ""),
        ]
        assert "a decision is stale" in capsys.readouterr().err

    def test_without_decisions_the_summary_says_so(self) -> None:
        assert summary(convert(source_of(FOLDED), settings("keep")))["decisions"] is None
