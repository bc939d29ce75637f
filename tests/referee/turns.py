"""What each measure says about the order of play, gathered from all parts."""

import re
from dataclasses import dataclass, field
from itertools import pairwise

from lxml import etree

from referee import opening

FIRST_WORDS = r"^(?:[^\W\d]+\.?\s+){0,2}\W*"
"""A jump may begin with what is played again: ``Menuetto da capo``."""
DA_CAPO = re.compile(FIRST_WORDS + r"(d\.\s*c\.?(?!\w)|dc(?!\w)|da\s+capo)", re.IGNORECASE)
DAL_SEGNO = re.compile(FIRST_WORDS + r"(d\.\s*s\.?(?!\w)|ds(?!\w)|dal\s+segno)", re.IGNORECASE)
FINE = re.compile(r"^\W*fine\W*$", re.IGNORECASE)
TO_CODA = re.compile(r"^\W*(to|al)\s+coda\W*$", re.IGNORECASE)
CODA = re.compile(r"^\W*coda\W*$", re.IGNORECASE)
SEGNO = re.compile(r"^\W*segno\W*$", re.IGNORECASE)


@dataclass(slots=True)
class Turn:
    """One measure's part in the order of play.

    Attributes:
        times: how often a section that ends here is played; 0 where none ends.
        ending: the passes of the ending that this measure lies in.
        segni, codas: labels of the signs that stand here.
        to_segno, to_coda: the label that is jumped to; None where there is no such jump.
        until: what a jump is to end with, ``fine`` or ``coda``, where its words say so.
    """

    forward: bool = False
    times: int = 0
    ending: frozenset[int] = frozenset()
    opens: frozenset[int] | None = None
    closes: bool = False
    segni: set[str] = field(default_factory=set)
    codas: set[str] = field(default_factory=set)
    da_capo: bool = False
    to_segno: str | None = None
    to_coda: str | None = None
    fine: bool = False
    until: set[str] = field(default_factory=set)
    bare_coda: bool = False


def numbers(text: str) -> frozenset[int]:
    """Passes of an ending: ``1, 2`` or ``1-3``."""
    found: set[int] = set()
    for word in re.split(r"[,\s]+", text.replace(".", " ").strip()):
        ends = [int(n) for n in re.findall(r"\d+", word)]
        if ends:
            found.update(range(ends[0], ends[-1] + 1))
    return frozenset(found)


def turns_of(root: etree._Element) -> list[Turn]:
    """The turns of a score, with endings spread over their measures."""
    parts = opening.measures_by_part(root)
    turns = [Turn() for _ in range(max((len(m) for m in parts.values()), default=0))]
    for measures in parts.values():
        for index, measure in enumerate(measures):
            for barline in measure.iterchildren("barline"):
                read_barline(turns, index, barline)
            for direction in measure.iterchildren("direction"):
                read_direction(turns[index], direction)
            for sound in measure.iterchildren("sound"):
                read_sound(turns[index], sound)
    spread_endings(turns)
    stretch_endings(turns)
    settle_codas(turns)
    settle_jumps(turns)
    return turns


def read_barline(turns: list[Turn], index: int, barline: etree._Element) -> None:
    """Repeats and endings."""
    repeat, left = barline.find("repeat"), barline.get("location") == "left"
    if repeat is not None and repeat.get("direction") == "forward":
        target = index if left or index + 1 >= len(turns) else index + 1
        turns[target].forward = True
    elif repeat is not None:
        target = max(index - 1, 0) if left else index
        turns[target].times = max(turns[target].times, int(repeat.get("times") or 2), 2)
    if barline.find("segno") is not None:
        turns[index].segni.add(barline.get("segno") or "")
    if barline.find("coda") is not None:
        turns[index].bare_coda = True
    for ending in barline.iterchildren("ending"):
        if ending.get("type") == "start":
            turns[index].opens = numbers(ending.get("number") or ending.text or "")
        else:
            turns[index].closes = True


def read_direction(turn: Turn, direction: etree._Element) -> None:
    """Signs and words."""
    words = [" ".join((w.text or "").split()) for w in direction.iterfind("direction-type/words")]
    jumps = len([w for w in words if read_words(turn, w)])
    sound = direction.find("sound")
    known = read_sound(turn, sound) if sound is not None else False
    if jumps or known:
        return
    if direction.find("direction-type/segno") is not None:
        turn.segni.add("")
    if direction.find("direction-type/coda") is not None:
        turn.bare_coda = True


def read_words(turn: Turn, words: str) -> bool:
    """A jump or a sign in words; whether it was one."""
    leaps = DA_CAPO.match(words) or DAL_SEGNO.match(words)
    if leaps:
        turn.until |= {end for end in ("fine", "coda") if end in words.casefold()}
    if DA_CAPO.match(words):
        turn.da_capo = True
    elif DAL_SEGNO.match(words):
        turn.to_segno = turn.to_segno or ""
    elif TO_CODA.match(words):
        turn.to_coda = turn.to_coda or ""
    elif FINE.match(words):
        turn.fine = True
    elif SEGNO.match(words):
        turn.segni.add("")
    elif CODA.match(words):
        turn.bare_coda = True
        return False
    else:
        return False
    return True


def read_sound(turn: Turn, sound: etree._Element) -> bool:
    """A jump or a sign for playback; whether it was one."""
    turn.da_capo = turn.da_capo or sound.get("dacapo") == "yes"
    turn.forward = turn.forward or sound.get("forward-repeat") == "yes"
    turn.fine = turn.fine or sound.get("fine") not in {None, "no"}
    if sound.get("dalsegno") is not None:
        turn.to_segno = sound.get("dalsegno")
    if sound.get("tocoda") is not None:
        turn.to_coda = sound.get("tocoda")
    if sound.get("segno") is not None:
        turn.segni.add(sound.get("segno") or "")
    if sound.get("coda") is not None:
        turn.codas.add(sound.get("coda") or "")
    known = ("dacapo", "fine", "dalsegno", "tocoda", "segno", "coda")
    return any(sound.get(name) is not None for name in known)


def spread_endings(turns: list[Turn]) -> None:
    """Give each measure of an ending its passes."""
    current: frozenset[int] = frozenset()
    for turn in turns:
        if turn.opens is not None:
            current = turn.opens
        turn.ending = current
        if turn.closes or (turn.times and current):
            current = frozenset()


def stretch_endings(turns: list[Turn]) -> None:
    """A bracket drawn short: an ending lasts until the repeat right before the next ending."""
    for index, turn in enumerate(turns):
        if not turn.closes or not turn.ending or turn.times:
            continue
        end = index + 1
        while end < len(turns) and not (turns[end].times or turns[end].opens):
            end += 1
        following = turns[end + 1].opens if end + 1 < len(turns) else None
        if following and turns[end].times and min(following) > max(turn.ending):
            for between in turns[index + 1 : end + 1]:
                between.ending = turn.ending


def settle_jumps(turns: list[Turn]) -> None:
    """Words that stand a measure early: the jump waits for the repeat that closes after it."""
    for one, two in pairwise(turns):
        if one.da_capo and two.times and not one.times:
            one.da_capo, two.da_capo = False, True
            two.until |= one.until


def settle_codas(turns: list[Turn]) -> None:
    """Coda signs that say no more: the first of several sends, the last one is the coda."""
    bare = [turn for turn in turns if turn.bare_coda and turn.to_coda is None and not turn.codas]
    sends = any(turn.to_coda is not None for turn in turns)
    if len(bare) > 1 and not sends:
        bare[0].to_coda = ""
        bare = bare[1:]
    for turn in bare:
        turn.codas.add("")
