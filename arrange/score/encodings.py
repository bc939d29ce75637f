"""What the bytes of a score file mean as text, whatever encoding they are in."""

import codecs
import re
from dataclasses import dataclass

from arrange.errors import BadInput

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_UNMARKED = (
    (b"<\0\0\0", "utf-32-le"),
    (b"\0\0\0<", "utf-32-be"),
    (b"<\0", "utf-16-le"),
    (b"\0<", "utf-16-be"),
)
_DECLARED = re.compile(r"""^<\?xml[^>]*?\sencoding\s*=\s*["']([A-Za-z][\w.-]*)["']""")
# Of these, text that was decoded encodes to the same bytes again, sign for sign.
_EXACT = ("utf-8", "ascii", "iso8859-1", "utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be")


@dataclass(frozen=True, slots=True)
class SourceText:
    """The text of a file, and what is needed to turn it into bytes again.

    Attributes:
        text: Everything behind the byte order mark.
        codec: The name of the encoding, as Python spells it.
        mark: The byte order mark; empty when there is none.
        is_exact: Encoding the text gives the bytes that it was read from.
        notes: Sentences for the log.
    """

    text: str
    codec: str
    mark: bytes
    is_exact: bool
    notes: tuple[str, ...]

    def encoded(self, text: str) -> bytes:
        """Other text in the same encoding; a sign that it lacks becomes a reference."""
        return text.encode(self.codec, "xmlcharrefreplace")


def decoded(raw: bytes, file: str) -> SourceText:
    """Read the bytes of an XML file as text.

    Args:
        raw: The whole file.
        file: Its name, for messages.

    Raises:
        BadInput: An encoding that is unknown, or bytes that it does not allow.
    """
    mark, found = _byte_order(raw)
    declared = _declaration(raw[len(mark) : len(mark) + 400], found)
    notes: tuple[str, ...] = ()
    codec = found or (_codec(declared, file) if declared else "utf-8")
    if not found and codec.startswith(("utf-16", "utf-32")):
        codec = "utf-8"
    if declared and not _agree(declared, codec):
        notes = (f"the file says that it is in {declared}, but it is in {codec.upper()}",)
    payload = raw[len(mark) :]
    try:
        text = payload.decode(codec)
    except UnicodeDecodeError as fault:
        line = payload[: fault.start].count(b"\n") + 1
        raise BadInput(
            f"line {line} has bytes that are not {(declared or codec).upper()}; "
            "save the score again as UTF-8",
            file=file,
        ) from fault
    is_exact = codec in _EXACT or text.encode(codec, "xmlcharrefreplace") == payload
    return SourceText(text, codec, mark, is_exact, notes)


def _byte_order(raw: bytes) -> tuple[bytes, str]:
    for mark, codec in _MARKS:
        if raw.startswith(mark):
            return mark, codec
    for beginning, codec in _UNMARKED:
        if raw.startswith(beginning):
            return b"", codec
    return b"", ""


def _declaration(beginning: bytes, codec: str) -> str:
    match = _DECLARED.match(beginning.decode(codec or "latin-1", "replace"))
    return match.group(1) if match else ""


def _codec(declared: str, file: str) -> str:
    try:
        codec = codecs.lookup(declared).name
        "<".encode(codec)
    except (LookupError, UnicodeError) as fault:
        raise BadInput(
            f"the encoding {declared} is not known; save the score again as UTF-8", file=file
        ) from fault
    return codec


def _agree(declared: str, codec: str) -> bool:
    named = declared.lower().replace("_", "-")
    return codec.startswith(named) or codec == _codec_or_nothing(declared)


def _codec_or_nothing(declared: str) -> str:
    try:
        return codecs.lookup(declared).name
    except LookupError:
        return ""
