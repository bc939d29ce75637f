"""What the review page is made of: systems, drawings, what each change touched, the contents."""

import base64
import json
import sys
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import corpus
from arrange.changes import Outcome
from arrange.cli import main
from arrange.edits import NoteValue
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.pipeline import Conversion, Settings, convert
from arrange.registry import installed
from arrange.report.listening import note_id
from arrange.report.review.drawing import drawn
from arrange.report.review.engraver import engraved
from arrange.report.review.harp_picture import harp_picture, setting_text
from arrange.report.review.payload import packed, script_json
from arrange.report.review.preview import Side
from arrange.report.review.systems import rows, widths
from arrange.report.review.touched import Moved, Tracing
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source

SCORES = Path(corpus.__file__).parent
FILES = sorted(path for path in SCORES.iterdir() if path.suffix in (".musicxml", ".mxl"))
GLYPHS: dict[str, str] = {}


def conversion(name: str) -> Conversion:
    harp = load_harp("lever-34")
    book = load_rulebook("concert", installed(), harp.player)
    return convert(read_source(SCORES / name), Settings(harp.harp, book))


class TestSystems:
    @pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
    def test_every_note_of_a_score_is_drawn_once_in_the_system_planned_for_it(
        self, path: Path
    ) -> None:
        side = Side.read(read_source(path).score_bytes, path.name)
        room = widths(side.score)
        planned = rows([(i, i) for i in range(side.count)], room, room)
        found = engraved(side, [row.before[0] for row in planned], "b", path.name)
        assert [drawing.measures for drawing in found.drawings] == [r.before for r in planned]
        pictures = "".join(drawing.svg for drawing in found.drawings)
        for event, note in side.score.notes_by_id.items():
            assert pictures.count(f'id="b-{note_id(event)}"') == 1, (event, note.pitch)

    @given(st.lists(st.tuples(st.booleans(), st.booleans(), st.integers(1, 900)), max_size=40))
    def test_rows_hold_every_column_once_and_both_sides_in_order(
        self, drawn_columns: list[tuple[bool, bool, int]]
    ) -> None:
        one = two = 0
        pairs: list[tuple[int | None, int | None]] = []
        for has_one, has_two, _ in drawn_columns:
            if has_one or has_two:
                pairs.append((one if has_one else None, two if has_two else None))
                one, two = one + has_one, two + has_two
        room = [wide for *_, wide in drawn_columns]
        found = rows(pairs, room[:one], room[:two])
        assert [i for row in found for i in row.before] == list(range(one))
        assert [i for row in found for i in row.after] == list(range(two))
        assert [i for row in found for i in range(row.first, row.last + 1)] == list(
            range(len(pairs))
        )

    def test_measures_that_only_one_side_has_stand_in_rows_of_their_own(self) -> None:
        pairs = [(0, 0), (1, None), (2, None), (3, 1), (None, 2), (4, 3)]
        found = rows(pairs, [10] * 5, [10] * 4)
        assert [(row.before, row.after) for row in found] == [
            ((0,), (0,)),
            ((1, 2), ()),
            ((3, 4), (1, 2, 3)),
        ]


class TestDrawings:
    def of(self, body: str) -> str:
        size = '<svg class="definition-scale" viewBox="0 0 90 40">'
        return drawn(
            f"<svg><defs></defs>{size}{body}</svg></svg>", "a", {"#00000a": "d-P1-0-d0"}, GLYPHS
        ).svg

    @pytest.mark.parametrize(
        "body",
        [
            "<script>alert(1)</script>",
            '<g onclick="alert(1)"><path d="M0 0"/></g>',
            '<foreignObject><img src="x" onerror="alert(1)"/></foreignObject>',
            '<a href="javascript:alert(1)"><text>x</text></a>',
            '<use href="https://example.org/a.svg#x"/>',
            '<rect fill="url(https://example.org)" width="1" height="1"/>',
            '<path style="background:url(x)" d="M0 0"/>',
            '<set attributeName="href" to="javascript:alert(1)"/>',
            '<path d="M0 0" id="content"/>',
        ],
    )
    def test_only_shapes_and_words_come_through(self, body: str) -> None:
        found = self.of(body)
        for sign in ("script", "onclick", "onerror", "javascript", "://", "url", "style", "set"):
            assert sign not in found
        assert 'id="content"' not in found

    @given(st.text())
    def test_any_text_stays_text(self, words: str) -> None:
        spelled = words.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        found = self.of(f"<text><tspan x='1'>y</tspan>{spelled}</text>")
        assert found.count("<") == found.count("<svg") + found.count("</svg") + found.count(
            "<text"
        ) + found.count("</text")

    def test_ids_of_notes_get_their_side_and_colours_become_marks(self) -> None:
        found = self.of(
            '<g id="n-P1-0-3" class="note"><path d="M1 2"/></g>'
            '<g class="dir"><text><tspan fill="#00000A">low G</tspan></text></g>'
        )
        assert '<g class="note" id="a-n-P1-0-3"><path d="M1 2"/></g>' in found
        assert '<tspan data-mark="a-d-P1-0-d0">low G</tspan>' in found


class TestTouched:
    @pytest.mark.parametrize("name", ["barcarolle-glissandi.musicxml", "bells-three-staves.mxl"])
    def test_every_applied_change_of_notes_finds_its_notes(self, name: str) -> None:
        found = conversion(name)
        tracing = Tracing(found.before, found.score, Moved(found.interval, found.transposed_parts))
        entries = found.log.entries
        gone = {note for e in entries for note in e.change.before if isinstance(note, NoteValue)}
        assert gone
        for entry, touched in zip(entries, tracing.touched(entries), strict=True):
            if entry.outcome is Outcome.APPLIED and entry.change.is_of_notes:
                assert touched.before
                is_last = all(value not in gone for value in entry.change.after)
                if entry.change.after and is_last:
                    assert touched.after


class TestHarp:
    def test_partial_levers_are_drawn_and_told(self) -> None:
        full = load_harp("lever-26").harp
        bare = tuple(
            s if s.letter in "FCB" else type(s)(s.letter, s.octave, s.open, None)
            for s in full.strings
        )
        harp = type(full)(full.name, full.tuning, bare)
        levers = [s.name for s in bare if s.raised is not None]
        initial = dict.fromkeys(levers, Position.DOWN) | {levers[0]: Position.UP}
        picture = harp_picture(harp, initial, 0, "The <harp>")
        assert picture.count('class="bare"') == len(bare) - len(levers)
        assert picture.count('class="lever down"') == len(levers) - 1
        assert f'id="lever-0-{levers[0]}" class="lever up"' in picture
        assert "<harp>" not in picture
        assert picture.count('class="string red"') == sum(s.letter == "C" for s in bare)
        words = setting_text(harp, initial)
        assert "Without a lever: " in words
        assert words.startswith("Levers up: ")


class TestContents:
    def test_packed_text_is_unpacked_as_it_was(self) -> None:
        text = "Ré ♭ <svg/>" * 9
        assert zlib.decompress(base64.b64decode(packed(text)), -15).decode() == text

    @given(st.text())
    def test_json_in_a_script_cannot_close_it(self, text: str) -> None:
        spelled = script_json({"text": text + "</script><!--"})
        assert "<" not in spelled
        assert json.loads(spelled)["text"] == text + "</script><!--"


def test_without_the_engraver_it_says_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "verovio", None)
    out = tmp_path / "page.html"
    score = str(SCORES / "minuet-da-capo.musicxml")
    assert main(["compare", score, score, "-o", str(out)]) == 2
    assert "pip install 'leverwright[review]'" in capsys.readouterr().err
    assert not out.exists()
