"""The lesson as a page: one file that opens from disk, prints to two pages, and plays."""

import base64
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from string import Template

from arrange.phrasing import capital
from arrange.report.comparing.wording import visible
from arrange.report.listening import listening_script, timeline
from arrange.report.review.harp_picture import harp_picture
from arrange.report.review.page import content_policy
from arrange.report.review.payload import packed_json, script_json
from arrange.teach.budget import printed
from arrange.teach.lesson import Lesson
from arrange.teach.notation import MelodyPicture, melody_picture
from arrange.teach.sections import Item, Section, facts, sections, title_of
from arrange.teach.sound import PracticeFile, count_in, practice_files
from arrange.teach.words import counted, number_of

_STYLES = ("brief", "print")


@dataclass(frozen=True, slots=True)
class PageSettings:
    """How the page is made.

    Attributes:
        file: the score's name; *book*: the rule book's, both as they are shown.
        is_large: in large print; it then takes as many pages as it needs.
    """

    file: str
    book: str
    is_large: bool = False


def lesson_page(lesson: Lesson, settings: PageSettings) -> str:
    """The page, as HTML.

    Raises:
        BadInput: the engraver is not installed, or cannot draw the melody.
    """
    music = melody_picture(lesson.melody, settings.file, is_large=settings.is_large)
    parts = sections(lesson)
    shown = printed(parts, music.height_mm)
    by_name = {
        part.name: _section(part, None if settings.is_large else shown.items[part.name])
        for part in parts
    }
    style = "\n".join(_asset(f"{name}.css") for name in _STYLES)
    if music.music_font:
        style += f'\n@font-face{{font-family:"engraved";src:url("{music.music_font}")}}'
    sound = listening_script()
    script = f'"use strict";\n(() => {{\n{_asset("brief.js")}\n}})();'
    piece = lesson.piece
    return Template(_asset("brief.html")).substitute(
        policy=content_policy(style, sound, script),
        title=_text(title_of(lesson, settings.file)),
        size="large" if settings.is_large else "plain roomy" if shown.is_roomy else "plain",
        style=style,
        facts=_text(facts(lesson, settings.book)),
        file=_text(settings.file),
        glyphs="".join(
            f'<path id="g-{name}" transform="scale(1,-1)" d="{outline}"/>'
            for name, outline in sorted(music.glyphs.items())
        ),
        harp=harp_picture(piece.harp, piece.told.initial, 0, "The harp with its levers"),
        first="".join(by_name.get(name, "") for name in shown.first),
        key=by_name.get("key", ""),
        music="".join(_systems(lesson, music)),
        last="".join(by_name.get(name, "") for name in shown.second if name != "key"),
        content=script_json(_content(lesson, settings)),
        sound=sound,
        script=script,
    )


def _content(lesson: Lesson, settings: PageSettings) -> dict[str, object]:
    piece = lesson.piece
    heard = timeline(piece.score, piece.harp, piece.instructions)
    stem = settings.file.partition(".")[0] or "practice"
    return {
        "listening": packed_json(heard),
        "counts": count_in(piece),
        "measures": [number_of(measure) for measure in piece.measures],
        "midi": [_packed(one) for one in practice_files(piece, stem)],
    }


def _packed(one: PracticeFile) -> dict[str, object]:
    squeezer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    raw = squeezer.compress(one.content) + squeezer.flush()
    return {
        "name": one.name,
        "hand": one.hand,
        "percent": one.percent,
        "packed": base64.b64encode(raw).decode(),
    }


def _section(part: Section, printed: int | None) -> str:
    """A section; items beyond *printed* are on the screen only."""
    body = "".join(f"<p>{_text(line)}</p>" for line in part.lines)
    if part.items:
        tag = "ol" if part.is_ordered else "ul"
        rows = "".join(
            _item(item, is_printed=printed is None or place < printed)
            for place, item in enumerate(part.items)
        )
        body += f"<{tag}>{rows}</{tag}>"
        rest = () if printed is None else part.items[printed:]
        if rest:
            body += f'<p class="paper">{_text(_rest(rest))}</p>'
    if part.after:
        told = "".join(f"<li>{_led(text)}</li>" for text in part.after)
        body += f'<ul class="how">{told}</ul>'
    name = part.name
    return (
        f'<section id="{name}" aria-labelledby="{name}-title">'
        f'<h2 id="{name}-title">{_text(part.title)}</h2>{body}</section>'
    )


def _rest(items: Sequence[Item]) -> str:
    """What the printed page says of entries that it has no room for."""
    more = counted(len(items), "more entry", "more entries")
    short = "; ".join(item.short for item in items if item.short).rstrip(".")
    return (
        f"In short (more on the screen): {short}." if short else f"{capital(more)} on the screen."
    )


def _led(text: str) -> str:
    lead, _, rest = text.partition(":")
    return f"<b>{_text(lead)}:</b>{_text(rest)}"


def _item(item: Item, *, is_printed: bool) -> str:
    kind = "" if is_printed else ' class="screen"'
    lead = f"<b>{_text(item.lead)}</b>" if item.lead else ""
    tag = f' <span class="tag">{_text(item.tag)}</span>' if item.tag else ""
    text = f" {_text(item.text)}" if item.text else ""
    extra = "".join(f'<div class="extra">{_ways(line)}</div>' for line in item.extra)
    return f"<li{kind}>{lead}{tag}{text}{extra}{_count(item)}</li>"


def _ways(line: str) -> str:
    lead, mark, rest = line.partition(": ")
    is_way = bool(mark) and len(lead) < 16 and "." not in lead and "," not in lead
    return f"<i>{_text(lead)}:</i> {_text(rest)}" if is_way else _text(line)


def _count(item: Item) -> str:
    if not item.count:
        return ""
    beats = "".join(
        f'<span class="{"do" if done not in ("ring", "wait") else "still"}">'
        f"<span>{_text(beat)}</span> {_text(done)}</span>"
        for beat, done in item.count
    )
    return f'<div class="count" aria-label="Count">{beats}</div>'


def _systems(lesson: Lesson, music: MelodyPicture) -> Iterator[str]:
    measures = lesson.piece.measures
    hidden = [s for s in music.systems if not s.is_printed]
    for system in music.systems:
        first, last = (number_of(measures[i]) for i in (system.first, system.last))
        kind = "system" if system.is_printed else "system screen"
        label = _text(f"Melody, measures {first} to {last}")
        yield f'<div class="{kind}" role="img" aria-label="{label}">{system.svg}</div>'
    if hidden:
        first = number_of(measures[hidden[0].first])
        yield f'<p class="paper">The melody from measure {_text(first)} on: on the screen.</p>'


def _asset(name: str) -> str:
    return (files("arrange.teach") / "assets" / name).read_text("utf-8")


def _text(text: str) -> str:
    return escape(visible(text))
