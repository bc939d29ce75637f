"""The right score is found in a compressed file, and everything else in it is kept."""

import io
import stat
import struct
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest

from arrange.errors import BadInput
from arrange.score.container import Source, read_source, read_source_bytes, write_result
from arrange.score.limits import Limits

SCORE = b'<?xml version="1.0"?>\n<!-- long --><score-partwise version="4.0"/>\n'
UTF_16_SCORE = b"\xff\xfe" + "<score-timewise/>".encode("utf-16-le")
CONTAINER = "META-INF/container.xml"
MUSICXML = "application/vnd.recordare.musicxml+xml"


def _container(*rootfiles: tuple[str, str]) -> bytes:
    rows = "".join(
        f'<rootfile full-path="{path}"' + (f' media-type="{kind}"/>' if kind else "/>")
        for path, kind in rootfiles
    )
    return f"<container><rootfiles>{rows}</rootfiles></container>".encode()


def _archive(
    members: Mapping[str, bytes], *, packing: int = zipfile.ZIP_DEFLATED, streamed: bool = False
) -> bytes:
    written = io.BytesIO()
    target = _OneWay(written) if streamed else written
    with zipfile.ZipFile(target, "w", packing) as packed:
        packed.comment = b"a comment"
        for index, (name, content) in enumerate(members.items()):
            entry = zipfile.ZipInfo(name, (1999, 12, 31, 23, 59, 2 * index))
            entry.compress_type = packing
            entry.comment = f"on {name}".encode()
            entry.extra = struct.pack("<2H4s", 0x5A5A, 4, b"mark")
            entry.external_attr = 0o640 << 16
            packed.writestr(entry, content)
    return written.getvalue()


class _OneWay(io.RawIOBase):
    """A stream that cannot go back, so that sizes follow the members."""

    def __init__(self, target: io.BytesIO) -> None:
        self._target = target

    def writable(self) -> bool:
        return True

    def write(self, some: object) -> int:
        return self._target.write(some)  # type: ignore[arg-type]


def _described(raw: bytes, left_out: str = "") -> list[object]:
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        assert packed.testzip() is None
        return [packed.comment] + [
            (
                entry.filename,
                entry.date_time,
                entry.comment,
                entry.extra,
                entry.external_attr,
                entry.compress_type,
                "" if entry.filename == left_out else packed.read(entry),
            )
            for entry in packed.infolist()
        ]


FULL = {
    CONTAINER: _container(("print.pdf", "application/pdf"), ("music/score.xml", MUSICXML)),
    "print.pdf": b"%PDF " * 50,
    "other.xml": SCORE,
    "music/": b"",
    "music/score.xml": SCORE,
    "music/Harfenstück.png": bytes(range(256)),
}


@pytest.mark.parametrize("packing", [zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED])
@pytest.mark.parametrize("layout", ["sizes first", "sizes follow"])
@pytest.mark.parametrize("prefix", [b"", b"PK\3\4 something before"])
def test_only_the_score_in_an_archive_is_replaced(
    packing: int,
    layout: str,
    prefix: bytes,
) -> None:
    raw = prefix + _archive(FULL, packing=packing, streamed=layout == "sizes follow")
    source = read_source_bytes(raw, "x.mxl")
    assert (source.score_bytes, source.notes) == (SCORE, ())
    assert write_result(source, SCORE) == raw
    longer = SCORE + b"<!-- more -->" * 99
    for content in (longer, b"<s/>"):
        result = write_result(source, content)
        assert result.startswith(prefix)
        assert read_source_bytes(result.removeprefix(prefix), "x.mxl").archive is not None
        with zipfile.ZipFile(io.BytesIO(result)) as packed:
            assert packed.read("music/score.xml") == content
            entry = packed.getinfo("music/score.xml")
            sizes = struct.unpack_from("<H6xLLL", result, entry.header_offset + 6)
            assert sizes == (entry.flag_bits, entry.CRC, entry.compress_size, len(content))
            assert not entry.flag_bits & 0x8
        assert _described(result, "music/score.xml") == _described(raw, "music/score.xml")
        assert write_result(source, content) == result


def test_a_plain_file_is_what_it_is() -> None:
    source = read_source_bytes(SCORE, "x.musicxml")
    assert source == Source("x.musicxml", SCORE, None, ())
    assert write_result(source, b"other") == b"other"


def test_the_content_and_not_the_name_tells_what_a_file_is(tmp_path: Path) -> None:
    plain = tmp_path / "plain.mxl"
    plain.write_bytes(SCORE)
    assert read_source(plain).score_bytes == SCORE
    assert read_source(plain).notes == ("the file is named .mxl but is not compressed",)
    packed = tmp_path / "packed.xml"
    packed.write_bytes(_archive(FULL))
    assert read_source(packed).score_bytes == SCORE
    assert read_source(packed).notes == ("the file is compressed but not named .mxl",)


TOLERATED = {
    "no container": ({"a.xml": SCORE, "b.png": b"-"}, "has no META-INF/container.xml"),
    "broken container": ({CONTAINER: b"<container", "a.xml": SCORE}, "cannot be read"),
    "empty container": ({CONTAINER: _container(), "a.xml": SCORE}, "names no MusicXML file"),
    "missing file": ({CONTAINER: _container(("b.xml", "")), "a.xml": SCORE}, "names b.xml"),
    "only a PDF is named": (
        {CONTAINER: _container(("b.pdf", "application/pdf")), "b.pdf": b"-", "a.xml": SCORE},
        "names no MusicXML file",
    ),
    "the named file is no score": (
        {CONTAINER: _container(("b.xml", MUSICXML)), "b.xml": b"<opus/>", "a.xml": SCORE},
        "names no MusicXML file",
    ),
    "system folders": (
        {"__MACOSX/a.xml": SCORE, "META-INF/b.xml": SCORE, "a.xml": SCORE},
        "has no META-INF/container.xml",
    ),
}


@pytest.mark.parametrize("title", TOLERATED)
def test_a_bad_container_is_tolerated_with_a_note_when_there_is_one_score(title: str) -> None:
    members, sentence = TOLERATED[title]
    source = read_source_bytes(_archive(members), "x.mxl")
    assert source.score_bytes == SCORE
    assert source.archive is not None
    assert source.archive.score == "a.xml"
    (note,) = source.notes
    assert sentence in note
    assert note.endswith("the only score in the archive was used, a.xml")


def test_the_first_score_that_the_container_names_is_used() -> None:
    named = _container(("./b", MUSICXML), ("a.xml", MUSICXML))
    source = read_source_bytes(
        _archive({"a.xml": SCORE, "b": UTF_16_SCORE, CONTAINER: named}), "x.mxl"
    )
    assert (source.score_bytes, source.notes) == (UTF_16_SCORE, ())


def _damaged(raw: bytes) -> bytes:
    at = raw.index(b"%PDF")
    return raw[:at] + b"?" + raw[at + 1 :]


def _locked(raw: bytes) -> bytes:
    at = raw.index(b"PK\1\2")
    return raw[: at + 8] + bytes([raw[at + 8] | 1]) + raw[at + 9 :]


def _linked() -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as packed:
        link = zipfile.ZipInfo("a.xml")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        packed.writestr(link, b"/etc/passwd")
    return written.getvalue()


REFUSED = {
    "two scores": (_archive({"a.xml": SCORE, "b.xml": SCORE}), r"2 scores \(a.xml, b.xml\)"),
    "no score": (_archive({"a.txt": SCORE, "b.xml": b"<opus/>"}), "holds no MusicXML score"),
    "nothing in it": (_archive({}), "holds no MusicXML score"),
    "cut off": (_archive(FULL)[:-40], "the archive is broken"),
    "cut off early": (_archive(FULL)[:30], "the archive is broken"),
    "out of the archive": (
        _archive({CONTAINER: _container(("../a.xml", "")), "a.xml": SCORE}),
        r"names \.\./a\.xml, which lies outside",
    ),
    "absolute": (
        _archive({CONTAINER: _container(("/etc/a.xml", "")), "a.xml": SCORE}),
        "lies outside the archive",
    ),
    "a drive": (
        _archive({CONTAINER: _container((r"C:\a.xml", "")), "a.xml": SCORE}),
        "lies outside the archive",
    ),
    "locked": (_locked(_archive({"a.xml": SCORE})), "locked by a password"),
    "damaged score": (
        _damaged(_archive({"a.xml": b"<!-- %PDF -->" + SCORE}, packing=zipfile.ZIP_STORED)),
        "a.xml in the archive is damaged",
    ),
    "a link": (_linked(), "a.xml in the archive is a link"),
    "a member outside": (
        _archive({"../../a.xml": SCORE, "b.xml": SCORE}),
        r"\.\./\.\./a\.xml .* lies outside it",
    ),
    "an absolute member": (_archive({"/etc/a.xml": SCORE}), "/etc/a.xml .* lies outside it"),
    "a bomb": (_archive({"a.xml": SCORE, "b": b"\0" * 11_000_000}), "more than 200 times"),
}


@pytest.mark.parametrize("title", REFUSED)
def test_an_archive_that_cannot_be_used_is_refused_in_a_sentence(title: str) -> None:
    raw, sentence = REFUSED[title]
    with pytest.raises(BadInput, match=sentence) as caught:
        read_source_bytes(raw, "x.mxl")
    assert str(caught.value).startswith("x.mxl: ")
    assert "\n" not in str(caught.value)


def test_an_archive_that_is_too_large_altogether_is_refused() -> None:
    raw = _archive({f"{number}.xml": b"\0" * 300_000 for number in range(7)})
    with pytest.raises(BadInput, match="more than 2 MB"):
        read_source_bytes(raw, "x.mxl", Limits(unpacked_bytes=2_000_000))


def test_an_archive_of_too_many_files_is_refused() -> None:
    raw = _archive({f"{number}.txt": b"-" for number in range(7)})
    with pytest.raises(BadInput, match="holds 7 files, which no score needs"):
        read_source_bytes(raw, "x.mxl", Limits(members=6))


def test_a_layout_that_cannot_be_kept_is_refused_when_writing() -> None:
    raw = _archive({"a.xml": SCORE}, packing=zipfile.ZIP_BZIP2)
    source = read_source_bytes(raw, "x.mxl")
    assert write_result(source, SCORE) == raw
    with pytest.raises(BadInput, match="not packed as MusicXML wants it"):
        write_result(source, b"<s/>")
    trailed = read_source_bytes(_archive({"a.xml": SCORE}) + b"junk", "x.mxl")
    with pytest.raises(BadInput, match="something follows its directory"):
        write_result(trailed, b"<s/>")


def test_the_long_form_of_the_format_is_refused_when_writing() -> None:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as packed:
        packed.writestr("a.xml", SCORE)
        long = zipfile.ZipInfo("b")
        long.extra = struct.pack("<HHQQ", 1, 16, 1, 1)
        packed.writestr(long, b"-")
    raw = written.getvalue()
    sizes = raw.rindex(b"PK\1\2") + 20
    raw = raw[:sizes] + b"\xff" * 8 + raw[sizes + 8 :]
    source = read_source_bytes(raw, "x.mxl")
    assert source.score_bytes == SCORE
    with pytest.raises(BadInput, match="long form"):
        write_result(source, b"<s/>")


def test_members_that_overlap_are_refused_when_writing() -> None:
    inner = _archive({"b": b"-"}, packing=zipfile.ZIP_STORED)
    cut = inner.index(b"PK\1\2")
    raw = _archive({"a.xml": SCORE + inner[:cut]}, packing=zipfile.ZIP_STORED)
    row = inner[cut : inner.index(b"PK\5\6")]
    row = row[:42] + struct.pack("<L", raw.index(inner[:cut])) + row[46:]
    end = raw.index(b"PK\5\6")
    size, at = struct.unpack_from("<LL", raw, end + 12)
    sizes = struct.pack("<HHLL", 2, 2, size + len(row), at)
    raw = raw[:end] + row + raw[end : end + 8] + sizes + raw[end + 20 :]
    source = read_source_bytes(raw, "x.mxl")
    with pytest.raises(BadInput, match="members overlap"):
        write_result(source, b"<s/>")


def test_a_missing_file_or_a_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"none\.xml: there is no such file"):
        read_source(tmp_path / "none.xml")
    with pytest.raises(BadInput, match=r"cannot be read \(Is a directory\)"):
        read_source(tmp_path)
