"""The harp drawn: its strings, as they look on the instrument, and a lever on each."""

from collections.abc import Iterator, Mapping
from html import escape

from arrange.harp.harp import Harp, HarpString, Position
from arrange.harp.wording import state_in_words
from arrange.report.review.entries import signed

_STEP, _LEFT, _TOP = 11, 14, 26
_SHORTEST, _LONGEST = 40, 116
_LABEL = 18


def harp_picture(harp: Harp, initial: Mapping[str, Position], number: int, title: str) -> str:
    """Draw the harp with its levers as they stand before the first note.

    Each lever is a group with the id ``lever-NUMBER-STRING`` and the class ``up`` or ``down``,
    so that the page can move it. C strings are red and F strings dark, as on the instrument
    (common practice).

    Args:
        harp: the harp.
        initial: where the levers stand, by string name.
        number: which harp of the score, from 0.
        title: what the picture is called.
    """
    count = len(harp.strings)
    width = 2 * _LEFT + _STEP * (count - 1)
    height = _TOP + _LONGEST + _LABEL + 6
    ids = f"harp-{number}-title"
    pieces = [
        f'<svg class="harp" viewBox="0 0 {width} {height}" role="img" aria-labelledby="{ids}">',
        f'<title id="{ids}">{escape(title)}</title>',
        _frame(count),
        *(piece for i, s in enumerate(harp.strings) for piece in _string(i, s, count)),
    ]
    pieces += (
        _lever(i, s, number, initial.get(s.name, Position.DOWN))
        for i, s in enumerate(harp.strings)
    )
    return "".join([*pieces, "</svg>"])


def setting_text(harp: Harp, initial: Mapping[str, Position]) -> str:
    """The same for those who do not see the picture: which strings are raised."""
    none = {s.name: Position.DOWN for s in harp.strings if s.raised is not None}
    if not none:
        return "No string has a lever."
    raised = [s for s in harp.strings if initial.get(s.name) is Position.UP]
    bare = [s.name for s in harp.strings if s.raised is None]
    rest = f" Without a lever: {', '.join(bare)}." if bare else ""
    if not raised:
        return f"All levers are down.{rest}"
    told = state_in_words(harp, none, {**none, **initial}).removeprefix("as at the start but ")
    return f"Levers up: {told}.{rest}"


def _length(place: int, count: int) -> int:
    """Bass strings are long; the row shortens towards the top as on the instrument."""
    from_top = count - 1 - place
    return _SHORTEST + (_LONGEST - _SHORTEST) * from_top * (count + from_top) // (
        2 * count * count
    )


def _frame(count: int) -> str:
    """The neck above, the soundboard below."""
    right = _LEFT + _STEP * (count - 1)
    low, high = _TOP + _length(0, count), _TOP + _length(count - 1, count)
    return (
        f'<path class="neck" d="M{_LEFT - 8} {_TOP - 8}H{right + 8}"/>'
        f'<path class="board" d="M{_LEFT - 8} {low + 4}L{right + 8} {high + 2}"/>'
    )


def _string(place: int, string: HarpString, count: int) -> Iterator[str]:
    x = _LEFT + _STEP * place
    end = _TOP + _length(place, count)
    kind = {"C": " red", "F": " dark"}.get(string.letter, "")
    tenths = 22 - 14 * place // count
    sounds = signed(string.open)
    if string.raised is not None:
        sounds += f", raised {signed(string.raised)}"
    else:
        sounds += ", no lever"
    yield (
        f'<path class="string{kind}" d="M{x} {_TOP - 6}V{end}" '
        f'stroke-width="{tenths // 10}.{tenths % 10}">'
        f"<title>{escape(string.name)}: {escape(sounds)}</title></path>"
    )
    if string.letter == "C":
        label = f"C{string.octave}"
        yield f'<text class="octave" x="{x}" y="{end + 15}">{label}</text>'


def _lever(place: int, string: HarpString, number: int, position: Position) -> str:
    x = _LEFT + _STEP * place
    if string.raised is None:
        return f'<circle class="bare" cx="{x}" cy="{_TOP + 6}" r="1.6"/>'
    return (
        f'<g id="lever-{number}-{escape(string.name)}" class="lever {position.value}">'
        f'<rect x="{x - 4}" y="{_TOP + 7}" width="8" height="11" rx="2"/></g>'
    )
