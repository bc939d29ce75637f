"""Files made to do harm are refused in a sentence; nothing outside is read or written."""

import io
import os
import stat
import struct
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from folders import EASY, InlineCrew, order_for, run
from notation import to_musicxml

from arrange.bulk.outcomes import PieceOutcome
from arrange.bulk.work import Reply, Task, reply_to
from arrange.errors import BadInput
from arrange.score.files import file_bytes
from arrange.score.limits import Limits

GOOD = to_musicxml(EASY)
ORDER = order_for().packed()


def _reply(raw: bytes, name: str = "x.musicxml") -> Reply:
    return reply_to(Task(1, name, name, raw, ORDER))


def _typed(subset: bytes, reference: bytes = b"") -> bytes:
    head, root = GOOD.split(b"<score-partwise", 1)
    root = root.replace(b"<part-name>", b"<part-name>" + reference, 1)
    return head + b"<!DOCTYPE score-partwise [" + subset + b"]>\n<score-partwise" + root


def _zipped(*members: tuple[str, bytes], link: str = "") -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in members:
            entry = zipfile.ZipInfo(name)
            entry.compress_type = zipfile.ZIP_DEFLATED
            if name == link:
                entry.external_attr = (stat.S_IFLNK | 0o777) << 16
            packed.writestr(entry, content)
    return written.getvalue()


def _bomb() -> bytes:
    """Members whose sizes in the directory are lies."""
    raw = bytearray(_zipped(("a.xml", GOOD + b" " * 3_000_000)))
    entry = raw.index(b"PK\1\2")
    raw[entry + 24 : entry + 28] = struct.pack("<L", 40)
    return bytes(raw)


def _sub(old: bytes, new: bytes, count: int = 1) -> bytes:
    assert old in GOOD
    return GOOD.replace(old, new, count)


DOZEN = b"".join(b'<!ENTITY e%d "%s">' % (n, b"&e%d;" % (n - 1) * 10) for n in range(1, 13))
NOTE = GOOD[GOOD.index(b"<note>") : GOOD.index(b"</note>") + 7]
HOSTILE = {
    "an entity of a file": (
        _typed(b'<!ENTITY e SYSTEM "file:///etc/passwd">', b"&e;"), "declares the entity e"
    ),
    "an entity of the net": (_typed(b'<!ENTITY e SYSTEM "http://localhost/e">'), "entity e"),
    "a parameter entity": (_typed(b'<!ENTITY % e SYSTEM "file:///dev/random"> %e;'), "entity e"),
    "an entity bomb": (_typed(b'<!ENTITY e0 "ha">' + DOZEN, b"&e12;"), "entity e0"),
    "a long entity": (_typed(b'<!ENTITY e "' + b"x" * 100_000 + b'">', b"&e;" * 999), "entity e"),
    "a document type": (_typed(b"<!ELEMENT note ANY>"), "document type of the file's own"),
    "a cut file": (GOOD[: len(GOOD) // 2], "not well-formed XML"),
    "a cut archive": (_zipped(("a.xml", GOOD))[:-30], "the archive is broken"),
    "sizes that are lies": (_bomb(), "a.xml in the archive is damaged"),
    "a bomb": (_zipped(("a.xml", GOOD + b" " * 50_000_000)), "more than 200 times its size"),
    "many members": (_zipped(*((f"{n}.txt", b"") for n in range(1001))), "holds 1,001 files"),
    "a way out": (_zipped(("../../a.xml", GOOD)), "lies outside it"),
    "a way out with backslashes": (_zipped(("..\\..\\a.xml", GOOD)), "lies outside it"),
    "an absolute member": (_zipped(("/etc/a.xml", GOOD)), "lies outside it"),
    "a linked member": (_zipped(("a.xml", b"/etc/passwd"), link="a.xml"), "is a link"),
    "deep nesting": (
        _sub(b"<part-list>", b"<credit>" * 100_000 + b"</credit>" * 100_000 + b"<part-list>"),
        "nested more than 200 deep",
    ),
    "nesting without an end": (_sub(b"<part-list>", b"<a>" * 1_000_000), "not well-formed"),
    "a long measure": (_sub(b"<note>", NOTE * 30_000 + b"<note>"), "holds 30,00. notes"),
    "a duration": (_sub(b"<duration>96<", b"<duration>96000000<"), "lasts 1,000,... quarters"),
    "an endless duration": (_sub(b"<duration>96<", b"<duration>1e99999999<"), "a duration is"),
    "a duration of many digits": (_sub(b"<duration>96<", b"<duration>" + b"9" * 5000 + b"<"),
                                  "more than 400 digits"),
    "divisions": (_sub(b"<divisions>96<", b"<divisions>960000000<"), "has 960000000 divisions"),
    "an octave": (_sub(b"<octave>4<", b"<octave>400<"), "a note has the pitch"),
    "an octave of many digits": (_sub(b"<octave>4<", b"<octave>" + b"4" * 99 + b"<"), "the pitch"),
    "an endless alteration": (
        _sub(b"<octave>4<", b"<alter>1e99999999</alter><octave>4<"), "the pitch"
    ),
    "a key": (_sub(b"<fifths>-3<", b"<fifths>-300000000<"), "has 300000000 accidentals"),
    "staves": (_sub(b"<staves>2<", b"<staves>200000000<"), "has 200,000,000 staves"),
    "a staff": (_sub(b"<staff>2<", b"<staff>200000000<"), "is on staff 200,000,000"),
    "a meter": (_sub(b"<beat-type>4<", b"<beat-type>400000000<"), "time signature of"),
    "a long attribute": (
        _sub(b"<note>", b'<note default-x="' + b"1" * 5000 + b'">'), "more than 400 digits"
    ),
    "nothing": (b"", "the file is empty"),
    "zeros": (bytes(100_000), "the file is empty"),
}  # fmt: skip


@pytest.mark.parametrize("title", HOSTILE)
def test_a_hostile_file_is_refused_in_a_sentence(title: str) -> None:
    raw, sentence = HOSTILE[title]
    reply = _reply(raw, "x.mxl" if raw.startswith(b"PK") else "x.musicxml")
    assert reply.outcome is PieceOutcome.REFUSED, reply.reason
    assert reply.files == {}
    assert "\n" not in reply.reason
    with pytest.raises(BadInput, match=sentence):
        raise BadInput(reply.reason)


def test_the_usual_document_type_is_no_harm() -> None:
    usual = (
        b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        b'"http://www.musicxml.org/dtds/partwise.dtd">\n<score-partwise'
    )
    raw = GOOD if b"<!DOCTYPE" in GOOD else GOOD.replace(b"<score-partwise", usual, 1)
    assert _reply(raw).outcome is PieceOutcome.CONVERTED


MIDI = bytes.fromhex("4d54686400000006000000010060 4d54726b0000000400ff2f00")
RENAMED = {
    "MIDI": (MIDI, "x.musicxml", r"is named \.musicxml but is MIDI; give its name .* \.mid"),
    "a score": (GOOD, "x.mid", r"is named \.mid but is MusicXML; give its name .* \.musicxml"),
    "an archive": (_zipped(("a.xml", GOOD)), "x.abc", r"is named \.abc but is MusicXML"),
    "MEI": (b"<?xml version='1.0'?><mei xmlns='x'/>", "x.xml", r"is named \.xml but is MEI"),
    "a PDF": (b"%PDF-1.7 x", "x.musicxml", "but is a PDF; name a score file"),
    "a picture": (b"\x89PNG\r\n", "x.mxl", "but is a picture"),
    "a program": (b"\x7fELF\2\1", "x.mid", "but is a program"),
    "a web page": (b"<!doctype html><html><body>", "x.xml", "but is a web page"),
}


@pytest.mark.parametrize("title", RENAMED)
def test_a_renamed_file_is_told_for_what_it_is(title: str) -> None:
    raw, name, sentence = RENAMED[title]
    reply = _reply(raw, name)
    assert reply.outcome is PieceOutcome.REFUSED
    with pytest.raises(BadInput, match=sentence):
        raise BadInput(reply.reason)


def _link_out(folder: Path) -> None:
    (folder / "x.musicxml").symlink_to(folder.parent / "outside" / "secret.musicxml")


def _link_to_system(folder: Path) -> None:
    (folder / "x.musicxml").symlink_to("/dev/zero")


def _link_to_nothing(folder: Path) -> None:
    (folder / "x.musicxml").symlink_to("nowhere")


def _link_to_itself(folder: Path) -> None:
    (folder / "x.musicxml").symlink_to("x.musicxml")


def _pipe(folder: Path) -> None:
    os.mkfifo(folder / "x.musicxml")


LINKS: dict[Callable[[Path], None], str] = {
    _link_out: "leads out of the folder",
    _link_to_system: "leads out of the folder",
    _link_to_nothing: "leads nowhere",
    _link_to_itself: "leads nowhere",
    _pipe: "is no plain file",
}


@pytest.mark.parametrize("make", LINKS, ids=lambda make: make.__name__)
def test_what_leads_out_of_the_folder_is_not_read(
    make: Callable[[Path], None], tmp_path: Path
) -> None:
    outside, folder = tmp_path / "outside", tmp_path / "scores"
    outside.mkdir()
    folder.mkdir()
    (outside / "secret.musicxml").write_bytes(GOOD)
    (folder / "good.musicxml").write_bytes(GOOD)
    make(folder)
    overview, _ = run(folder, tmp_path / "out")
    found = {row.entry.source: row.entry for row in overview.rows}
    assert found["good.musicxml"].outcome is PieceOutcome.CONVERTED
    assert found["x.musicxml"].outcome is PieceOutcome.REFUSED
    assert LINKS[make] in found["x.musicxml"].reason


def test_a_linked_folder_is_left_alone_and_a_link_within_is_followed(tmp_path: Path) -> None:
    outside, folder = tmp_path / "outside", tmp_path / "scores"
    outside.mkdir()
    folder.mkdir()
    (outside / "secret.musicxml").write_bytes(GOOD)
    (folder / "good.musicxml").write_bytes(GOOD)
    (folder / "again.musicxml").symlink_to("good.musicxml")
    (folder / "out-there").symlink_to(outside)
    (folder / "round").symlink_to(folder)
    overview, _ = run(folder, tmp_path / "out")
    assert [row.entry.source for row in overview.rows] == ["again.musicxml", "good.musicxml"]


def test_a_file_that_became_a_link_while_the_run_went_on_is_not_read(tmp_path: Path) -> None:
    folder = tmp_path / "scores"
    folder.mkdir()
    for name in ("a", "b"):
        (folder / f"{name}.musicxml").write_bytes(GOOD)

    class Swapping(InlineCrew):
        def replies(self, tasks):  # type: ignore[no-untyped-def] # as its parent
            (folder / "b.musicxml").unlink()
            (folder / "b.musicxml").symlink_to("/etc/passwd")
            return super().replies(tasks)

    overview, _ = run(folder, tmp_path / "out", crew=Swapping())
    assert "is a link, which is not followed" in overview.rows[1].entry.reason


def test_a_file_that_is_too_long_is_not_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "x.musicxml"
    with path.open("wb") as stream:
        stream.truncate(10_000_000_000)
    with pytest.raises(BadInput, match="longer than 100 MB"):
        file_bytes(path)
    with pytest.raises(BadInput, match="longer than 1 MB"):
        file_bytes(path, Limits(file_bytes=1_000_000))


TIGHT = {
    "elements": (Limits(elements=20), "more than 20 elements"),
    "depth": (Limits(depth=3), "nested more than 3 deep"),
    "measure_elements": (Limits(measure_elements=4), "the measure holds"),
    "measure_quarters": (Limits(measure_quarters=3), "the measure lasts 4 quarters"),
    "divisions": (Limits(divisions=95), "has 96 divisions"),
    "staves": (Limits(staves=1), "has 2 staves"),
    "performed": (Limits(performed=1), "2 measures are played; at most 1"),
}


@pytest.mark.parametrize("name", TIGHT)
def test_limits_are_settings(name: str) -> None:
    limits, sentence = TIGHT[name]
    order = replace(order_for(), limits=limits).packed()
    reply = reply_to(Task(1, "x.musicxml", "x.musicxml", GOOD, order))
    assert reply.outcome is PieceOutcome.REFUSED
    assert sentence in reply.reason
    assert _reply(GOOD).outcome is PieceOutcome.CONVERTED


def test_a_name_that_is_no_text_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "scores"
    folder.mkdir()
    (folder / os.fsdecode(b"caf\xe9.musicxml")).write_bytes(GOOD)
    overview, _ = run(folder, tmp_path / "out")
    assert overview.rows[0].entry.reason == ("its name is not written in UTF-8; rename it")


def test_the_page_and_the_table_quote_what_a_name_says(tmp_path: Path) -> None:
    folder, out = tmp_path / "scores", tmp_path / "out"
    folder.mkdir()
    names = ["<script>alert(1)<", "=cmd|' '!A1", "a b#c?d%e&f'g\"h", "java:script"]
    for name in names:
        (folder / f"{name}.musicxml").write_bytes(GOOD)
    run(folder, out)
    page = (out / "bulk.html").read_text("utf-8")
    assert "<script>alert" not in page
    assert page.count("<script>") == 1
    assert "./a%20b%23c%3Fd%25e%26f%27g%22h.musicxml" in page
    assert 'href="./java%3Ascript.musicxml"' in page
    rows = (out / "bulk.csv").read_text("utf-8").splitlines()
    assert any(row.startswith("'=cmd|") for row in rows)
