"""A compressed score (.mxl): what is in it, and one of its members put in anew.

Writing replaces the bytes of one member and what the directory says about it. All else stays as
it is in the source: order, names, dates, comments, extra fields and compressed bytes.
"""

import io
import stat
import struct
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from arrange.errors import BadInput
from arrange.score.limits import Limits, in_force

_LOCAL_HEADER = struct.Struct("<4s5H3L2H")
_DIRECTORY_ENTRY = struct.Struct("<4s6H3L5H2L")
_DIRECTORY_END = struct.Struct("<4s4H2LH")
_LONG = 0xFFFFFFFF
_ENCRYPTED = 0x1
_SIZES_FOLLOW = 0x8
_FAULTS = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, struct.error, ValueError)


@dataclass(frozen=True, slots=True)
class Archive:
    """A zip archive, as it was read.

    Attributes:
        name: The file's name, for messages.
        raw: All of its bytes.
        members: The names of the members in it, folders left out, in order.
        score: The member that holds the score; empty while it is not known.
    """

    name: str
    raw: bytes
    members: tuple[str, ...]
    score: str = ""

    @classmethod
    def open(cls, raw: bytes, name: str, limits: Limits | None = None) -> "Archive":
        """The archive in these bytes, checked against harm but not unpacked.

        Raises:
            BadInput: Broken, encrypted, with members that are links or lie outside, or larger
                unpacked than any score can be.
        """
        limits = limits or in_force()
        with _opened(raw, name) as packed:
            entries = [entry for entry in packed.infolist() if _is_file(entry.filename)]
        if len(entries) > limits.members:
            raise BadInput(
                f"the archive holds {len(entries):,} files, which no score needs; "
                "export the score again",
                file=name,
            )
        for entry in entries:
            _require_harmless(entry, name, limits)
        if sum(entry.file_size for entry in entries) > limits.unpacked_bytes:
            raise BadInput(
                f"the archive unpacks to more than {limits.unpacked_bytes // 1_000_000} MB, "
                "which no score needs; export the score again",
                file=name,
            )
        return cls(name, raw, tuple(dict.fromkeys(entry.filename for entry in entries)))

    def member(self, member: str) -> bytes:
        """The bytes of one member, unpacked.

        Raises:
            BadInput: The member is damaged, or packed in a way that MusicXML does not use.
        """
        with _opened(self.raw, self.name) as packed:
            try:
                return packed.read(member)
            except _FAULTS as fault:
                raise BadInput(
                    f"{member} in the archive is damaged ({fault}); export the score again",
                    file=self.name,
                ) from fault

    def replaced(self, content: bytes) -> bytes:
        """The archive with other bytes as its score.

        Raises:
            BadInput: The directory of the archive is not laid out as MusicXML wants it.
        """
        try:
            return _replaced(self.raw, self.score, content)
        except _FAULTS as fault:
            raise BadInput(
                f"the archive cannot be written again ({fault}); unpack it and convert the "
                "score alone",
                file=self.name,
            ) from fault


def _is_file(name: str) -> bool:
    """Whether the name is that of a file; a folder's ends in a stroke, and some have none."""
    return bool(name) and not name.endswith("/")


def _opened(raw: bytes, name: str) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(io.BytesIO(raw))
    except _FAULTS as fault:
        raise BadInput(
            f"the archive is broken ({fault}); export the score again", file=name
        ) from fault


def _require_harmless(entry: zipfile.ZipInfo, name: str, limits: Limits) -> None:
    if stat.S_ISLNK(entry.external_attr >> 16):
        raise BadInput(
            f"{entry.filename} in the archive is a link, which no score needs; "
            "export the score again",
            file=name,
        )
    if lies_outside(entry.filename):
        raise BadInput(
            f"{entry.filename} in the archive lies outside it; export the score again", file=name
        )
    if entry.flag_bits & _ENCRYPTED:
        raise BadInput(
            f"{entry.filename} in the archive is locked by a password; unlock it first", file=name
        )
    grows = entry.file_size > limits.ratio * max(entry.compress_size, 1)
    if grows and entry.file_size > limits.ratio_from_bytes:
        raise BadInput(
            f"{entry.filename} in the archive unpacks to more than {limits.ratio} times its "
            "size, which no score does; export the score again",
            file=name,
        )


def lies_outside(member: str) -> bool:
    """Whether the name of a member leads out of its archive."""
    path = PurePosixPath(member.replace("\\", "/"))
    return path.is_absolute() or ".." in path.parts or member[1:2] == ":"


def _replaced(raw: bytes, member: str, content: bytes) -> bytes:
    """The archive with one member's bytes replaced.

    Raises:
        ValueError: A directory that says something else than the members, or a long one (zip64).
    """
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        entries = packed.infolist()
        old = packed.getinfo(member)
        end = len(raw) - _DIRECTORY_END.size - len(packed.comment)
        directory = packed.start_dir
    if raw[end : end + 4] != b"PK\5\6":
        raise ValueError("something follows its directory")
    closing = list(_DIRECTORY_END.unpack_from(raw, end))
    first_byte = directory - closing[6]
    begin = old.header_offset
    following = [e.header_offset for e in entries if e.header_offset > begin]
    after = min([*following, directory])
    fresh = _fresh_member(raw, old, content, after)
    growth = len(fresh) - (after - begin)
    rows = _directory_rows(raw, directory, len(entries))
    for place, (row, tail) in enumerate(rows):
        offset = row[16] + first_byte
        if _LONG in (row[8], row[9], row[16]):
            raise ValueError("it uses the long form of the format")
        if offset == begin:
            sizes = _LOCAL_HEADER.unpack_from(fresh)
            row[3], row[7:10] = sizes[2], sizes[6:9]
        elif offset > begin:
            row[16] += growth
        rows[place] = (row, tail)
    closing[6] += growth
    listing = b"".join(_DIRECTORY_ENTRY.pack(*row) + tail for row, tail in rows)
    behind_listing = directory + closing[5]
    return b"".join(
        (
            raw[:begin],
            fresh,
            raw[after:directory],
            listing,
            raw[behind_listing:end],
            _DIRECTORY_END.pack(*closing),
            raw[end + _DIRECTORY_END.size :],
        )
    )


def _directory_rows(raw: bytes, begin: int, count: int) -> list[tuple[list[Any], bytes]]:
    rows = []
    at = begin
    for _ in range(count):
        row = list(_DIRECTORY_ENTRY.unpack_from(raw, at))
        at += _DIRECTORY_ENTRY.size
        tail = row[10] + row[11] + row[12]
        rows.append((row, raw[at : at + tail]))
        at += tail
    return rows


def _fresh_member(raw: bytes, old: zipfile.ZipInfo, content: bytes, after: int) -> bytes:
    header = list(_LOCAL_HEADER.unpack_from(raw, old.header_offset))
    begin = old.header_offset + _LOCAL_HEADER.size
    names = raw[begin : begin + header[9] + header[10]]
    if begin + len(names) + old.compress_size > after:
        raise ValueError("its members overlap")
    packed = content
    if old.compress_type == zipfile.ZIP_DEFLATED:
        deflate = zlib.compressobj(wbits=-zlib.MAX_WBITS)
        packed = deflate.compress(content) + deflate.flush()
    elif old.compress_type != zipfile.ZIP_STORED:
        raise ValueError("its score is not packed as MusicXML wants it")
    header[2] &= ~_SIZES_FOLLOW
    header[6:9] = zlib.crc32(content), len(packed), len(content)
    return _LOCAL_HEADER.pack(*header) + names + packed
