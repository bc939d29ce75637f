"""How XML spells tags, attributes, text and the white space between elements."""

import re
from collections.abc import Mapping

WHITE = " \t\r\n"
# A start tag: its name, its attributes as they are spelled, a slash when the element is empty.
# Possessive throughout, so that no input makes it slow.
START_TAG_PATTERN = (
    r"<([^\s/>!?]++)"
    r"""([^>"'/]*+(?:"[^"]*+"[^>"'/]*+|'[^']*+'[^>"'/]*+)*+)"""
    r"(?:(/)>|>"
)
START_TAG = re.compile(START_TAG_PATTERN + ")")
_ATTRIBUTE = re.compile(r"""(\s*)([^\s=]+)(\s*=\s*)("[^"]*"|'[^']*')""")
_PLAIN_ATTRIBUTE = re.compile(r'([^\s=]+)\s*=\s*"([^"]*)"')
_REFERENCE = re.compile(r"&([^;\s]*);")
_NAMED_REFERENCES = {"amp": "&", "lt": "<", "gt": ">", "quot": '"', "apos": "'"}
_CONTENT_TOKEN = re.compile(r"<!\[CDATA\[(.*?)\]\]>|(<!--.*?-->|<\?.*?\?>)|([^<]+)", re.DOTALL)
_REMARK = re.compile(r"<!--.*?-->|<\?.*?\?>", re.DOTALL)
_REMARK_OR_LINE_END = re.compile(r"<!--.*?-->|<\?.*?\?>|(\r\n|\r|\n)", re.DOTALL)
_UNWRITABLE = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TO_ESCAPE = re.compile("[&<\"'\t\n\r]")
_WHITE_IN_VALUE = str.maketrans({"\t": "&#9;", "\n": "&#10;", "\r": "&#13;"})


class UnknownReferenceError(ValueError):
    """A reference such as `&name;` that XML itself does not define."""


def unwritable_sign(words: str) -> str:
    """The first sign of the text that XML cannot hold, or an empty text."""
    if words.isascii() and words.isprintable():
        return ""
    match = _UNWRITABLE.search(words)
    return match.group() if match else ""


def resolved_text(raw: str) -> str:
    """Character data as a reader of XML gives it: line ends LF, references resolved.

    Raises:
        UnknownReferenceError: A reference that XML does not define.
    """
    if "\r" in raw:
        raw = raw.replace("\r\n", "\n").replace("\r", "\n")
    return _REFERENCE.sub(_meaning, raw) if "&" in raw else raw


def resolved_value(raw: str) -> str:
    """The value of an attribute as a reader of XML gives it.

    Raises:
        UnknownReferenceError: A reference that XML does not define.
    """
    if "\r" in raw or "\n" in raw or "\t" in raw:
        raw = re.sub("\r\n|[\r\n\t]", " ", raw)
    return _REFERENCE.sub(_meaning, raw) if "&" in raw else raw


def resolved_content(raw: str) -> str:
    """The text of a content that holds comments, processing instructions or CDATA sections.

    Raises:
        UnknownReferenceError: A reference that XML does not define.
    """
    pieces = []
    for literal, remark, words in _CONTENT_TOKEN.findall(raw):
        if not remark:
            plain = literal.replace("\r\n", "\n").replace("\r", "\n")
            pieces.append(plain + resolved_text(words))
    return "".join(pieces)


def remarks(raw: str) -> str:
    """The comments and processing instructions of a content, one behind the other."""
    return "".join(_REMARK.findall(raw)) if "<" in raw else ""


def _meaning(match: re.Match[str]) -> str:
    name = match.group(1)
    if name in _NAMED_REFERENCES:
        return _NAMED_REFERENCES[name]
    if name.startswith("#"):
        return chr(int(f"0{name[1:]}", 0) if name[1] == "x" else int(name[1:]))
    raise UnknownReferenceError(name)


def attributes(raw: str) -> dict[str, str]:
    """The attributes that a start tag spells, by name and in order.

    Raises:
        UnknownReferenceError: A reference that XML does not define.
    """
    if "'" not in raw and "&" not in raw and not ("\n" in raw or "\r" in raw or "\t" in raw):
        return dict(_PLAIN_ATTRIBUTE.findall(raw))
    return {name: resolved_value(value[1:-1]) for _, name, _, value in _ATTRIBUTE.findall(raw)}


def spelled_text(words: str, newline: str) -> str:
    """Text as character data, with the line ends that the file uses."""
    if words.isalnum():
        return words
    words = words.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return words.replace("\r", "&#13;").replace("\n", newline)


def spelled_value(words: str, quote: str) -> str:
    """Text as the value of an attribute, in its quotes."""
    if not _TO_ESCAPE.search(words):
        return quote + words + quote
    words = words.replace("&", "&amp;").replace("<", "&lt;").translate(_WHITE_IN_VALUE)
    return quote + words.replace(quote, "&quot;" if quote == '"' else "&apos;") + quote


def respelled_start_tag(raw: str, before: Mapping[str, str], attrs: Mapping[str, str]) -> str:
    """A start tag with other attributes; whatever stays the same keeps its spelling.

    Args:
        raw: How the source spells it.
        before: Its attributes there, by name.
        attrs: Those that it should have.
    """
    if "'" not in raw and before.keys() == attrs.keys():
        spelled = _with_other_values(raw, before, attrs)
        if spelled:
            return spelled
    return _respelled(raw, attrs)


def _with_other_values(raw: str, before: Mapping[str, str], attrs: Mapping[str, str]) -> str:
    """The start tag with other values, where it spells the old ones plainly; else nothing."""
    for name, value in attrs.items():
        if value != before[name]:
            plain = f' {name}="{before[name]}"'
            if plain not in raw or "=" in before[name]:  # it might be the end of another value
                return ""
            raw = raw.replace(plain, f" {name}={spelled_value(value, chr(34))}")
    return raw


def _respelled(raw: str, attrs: Mapping[str, str]) -> str:
    tag = START_TAG.match(raw)
    if tag is None:
        raise ValueError(f"{raw!r} is no start tag")
    spelled = tag.group(2)
    kept = spelled.rstrip(WHITE)
    pieces = [raw[: tag.start(2)]]
    known = set()
    quote = '"'
    for white, name, equals, value in _ATTRIBUTE.findall(kept):
        known.add(name)
        quote = value[0]
        if name in attrs:
            if resolved_value(value[1:-1]) != attrs[name]:
                value = spelled_value(attrs[name], quote)  # noqa: PLW2901 - the new spelling
            pieces.append(white + name + equals + value)
    for name, value in attrs.items():
        if name not in known:
            pieces.append(f" {name}={spelled_value(value, quote)}")
    return "".join(pieces) + spelled[len(kept) :] + raw[tag.end(2) :]


def new_start_tag(tag: str, attrs: Mapping[str, str]) -> str:
    """The start tag of a new element, without the bracket that closes it."""
    return f"<{tag}" + "".join(
        f" {name}={spelled_value(words, chr(34))}" for name, words in attrs.items()
    )


def separator_before(source: str, at: int) -> str:
    """What parts the element at this place from what stands before it.

    The last line end and the indentation behind it; on one line, the white space that is there.
    """
    begin = at
    while begin > 0 and source[begin - 1] in WHITE:
        begin -= 1
    white = source[begin:at]
    line_end = max(white.rfind("\n"), white.rfind("\r"))
    if line_end < 0:
        return white
    if white[line_end - 1 : line_end + 1] == "\r\n":
        line_end -= 1
    return white[line_end:]


def remark_on_the_line(gap: str) -> str:
    """The part of a gap that belongs to the line of the element before: a remark behind it."""
    if "<" not in gap:
        return ""
    for match in _REMARK_OR_LINE_END.finditer(gap):
        if match.group(1):
            return gap[: match.start()]
    return ""


def line_ends(source: str) -> str:
    """The line end that a file uses: CR LF, CR or LF."""
    if "\r" not in source:
        return "\n"
    return "\r\n" if "\r\n" in source else "\r"
