"""What barlines, sounds and words of a measure say about the order of play."""

import re
from dataclasses import replace

from arrange.score.model import MarkKind
from arrange.score.nodes import Node
from arrange.score.reading.leap_words import LeapWords
from arrange.score.reading.running import Running
from arrange.score.reading.statements import Signs

ANY = "*"
"""Stands for a sign that has no name of its own."""
_NUMBERS = re.compile(r"(\d{1,6})(?:\s*[-\u2013]\s*(\d{1,6}))?")


def read_barline(node: Node, running: Running) -> None:
    """Take a barline into the running state."""
    location = node.attrs.get("location", "right")
    for child in node.children:
        if child.tag == "repeat":
            _repeat(child, location, running)
        elif child.tag == "ending":
            _ending(child, location, running)
        elif child.tag == "bar-style" and child.text.strip() == "light-light":
            if location == "right":
                running.signs = replace(running.signs, double_bar=True)
        elif child.tag == "segno":
            _add_segno(node.attrs.get("segno", ANY), running)
        elif child.tag == "coda":
            _add_coda(node.attrs.get("coda", ""), running)


def _repeat(node: Node, location: str, running: Running) -> None:
    signs = running.signs
    if location == "middle":
        running.note("A repeat sign in the middle of the measure; the order of play ignores it.")
        return
    if node.attrs.get("direction") == "forward":
        running.signs = (
            replace(signs, forward=True)
            if location == "left"
            else replace(signs, forward_next=True)
        )
        return
    times_text = node.attrs.get("times", "")
    times = running.place.whole(times_text, "the times of a repeat") if times_text else 0
    running.signs = (
        replace(signs, backward_before=True, times=times)
        if location == "left"
        else replace(signs, backward=True, times=times)
    )


def _ending(node: Node, location: str, running: Running) -> None:
    if node.attrs.get("type") != "start":
        running.signs = (
            replace(running.signs, ending_stop_before=True)
            if location == "left"
            else replace(running.signs, ending_stop=True)
        )
        return
    numbers = ending_numbers(node.attrs.get("number", "")) or ending_numbers(node.text)
    if not numbers:
        running.note("An ending without a number; the order of play ignores it.")
        return
    running.signs = replace(running.signs, ending_start=numbers)


def ending_numbers(text: str) -> tuple[int, ...]:
    """``1, 2.`` or ``1-3`` as numbers."""
    found: list[int] = []
    for match in _NUMBERS.finditer(text):
        first = int(match[1])
        last = int(match[2] or first)
        found.extend(range(first, min(last, first + 99) + 1))
    return tuple(dict.fromkeys(number for number in found if number > 0))


def read_print(node: Node, running: Running) -> None:
    """Take a print element into the running state."""
    if node.attrs.get("new-page") == "yes":
        running.signs = replace(running.signs, new_page=True)


def add_sound(node: Node, running: Running) -> None:
    """Take what a sound element says about the order of play."""
    attrs = node.attrs
    signs = running.signs
    if attrs.get("dacapo") == "yes":
        signs = replace(signs, jump="D.C.")
    if attrs.get("dalsegno"):
        signs = replace(signs, jump=signs.jump or "D.S.", jump_to=attrs["dalsegno"])
    if attrs.get("fine"):
        signs = replace(signs, fine=True)
    if attrs.get("tocoda"):
        signs = replace(signs, to_coda=attrs["tocoda"])
    if attrs.get("forward-repeat") == "yes":
        signs = replace(signs, forward=True)
    running.signs = signs
    if attrs.get("segno"):
        _add_segno(attrs["segno"], running)
    if attrs.get("coda"):
        _add_coda(attrs["coda"], running)


def add_leap(
    words: list[LeapWords], pictures: set[MarkKind], sound: Node | None, running: Running
) -> None:
    """Take what the words and signs of one direction say together."""
    attrs = sound.attrs if sound is not None else {}
    signs = running.signs
    leaves = any(leap.jump or leap.to_coda for leap in words)
    for leap in words:
        signs = _with_words(signs, leap)
        if leap.with_repeats:
            running.note("The words ask for repeats after the leap; they are not taken again.")
    running.signs = signs
    if leaves:
        return
    kinds = {leap.sign for leap in words}
    if ("segno" in kinds or MarkKind.SEGNO in pictures) and not attrs.get("segno"):
        _add_segno(ANY, running)
    if attrs.get("coda") or attrs.get("tocoda"):
        return
    if "coda" in kinds:
        _add_coda(ANY, running)
    elif "coda-sign" in kinds or MarkKind.CODA in pictures:
        _add_coda("", running)


def _with_words(signs: Signs, leap: LeapWords) -> Signs:
    if leap.jump:
        al = tuple(dict.fromkeys((*signs.al, *leap.al)))
        return replace(signs, jump=leap.jump, jump_to=signs.jump_to, al=al)
    if leap.to_coda:
        return replace(signs, to_coda=signs.to_coda or ANY)
    return replace(signs, fine=True) if leap.fine else signs


def _add_segno(name: str, running: Running) -> None:
    running.signs = replace(running.signs, segno=(*running.signs.segno, name))


def _add_coda(name: str, running: Running) -> None:
    """A named or worded coda is where the leap arrives; a bare sign may be either end."""
    signs = running.signs
    running.signs = (
        replace(signs, coda=(*signs.coda, name)) if name else replace(signs, coda_sign=True)
    )
