"""The signs of all parts together: what each measure says about the order of play."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from arrange.score.course import Structure
from arrange.score.reading.statements import NO_SIGNS, Signs


@dataclass(frozen=True, slots=True)
class Group:
    """Endings that follow each other: indices of the first measure and the last."""

    first: int
    last: int
    passes: int


@dataclass(frozen=True, slots=True)
class Outline:
    """The order of play as the signs have it, one entry a measure.

    Attributes:
        structures: for the score; *signs*: with the names of signs.
        groups: for each measure the number of its group of endings, or -1.
        endings: the groups.
    """

    structures: tuple[Structure, ...]
    signs: tuple[Signs, ...]
    groups: tuple[int, ...]
    endings: tuple[Group, ...]


def merged(signs: Sequence[Signs]) -> Signs:
    """The signs of one measure in all parts as one; a sign on one part counts for all."""
    found = [sign for sign in signs if sign is not NO_SIGNS and sign != NO_SIGNS]
    if len(found) <= 1:
        return found[0] if found else NO_SIGNS
    result = found[0]
    for other in found[1:]:
        result = Signs(
            result.forward or other.forward,
            result.forward_next or other.forward_next,
            result.backward or other.backward,
            result.backward_before or other.backward_before,
            max(result.times, other.times),
            result.ending_start or other.ending_start,
            result.ending_stop or other.ending_stop,
            tuple(dict.fromkeys(result.segno + other.segno)),
            tuple(dict.fromkeys(result.coda + other.coda)),
            result.coda_sign or other.coda_sign,
            result.to_coda or other.to_coda,
            result.fine or other.fine,
            result.jump or other.jump,
            result.jump_to or other.jump_to,
            tuple(dict.fromkeys(result.al + other.al)),
            result.new_page or other.new_page,
            result.double_bar or other.double_bar,
            result.ending_stop_before or other.ending_stop_before,
        )
    return result


def outline(signs: Sequence[Signs]) -> Outline:
    """Put the signs where they act, and find the endings."""
    placed = _early_leaps(_bare_codas(_on_their_measures(list(signs))))
    numbers = _stretched(placed, _endings(placed))
    groups, endings = _groups(placed, numbers)
    structures = tuple(
        Structure(
            sign.forward,
            sign.backward,
            sign.times or 2,
            numbers[i],
            bool(sign.segno),
            bool(sign.coda),
            sign.fine,
            bool(sign.to_coda),
            sign.jump,
            sign.new_page,
            sign.double_bar,
        )
        for i, sign in enumerate(placed)
    )
    return Outline(structures, tuple(placed), groups, endings)


def _on_their_measures(signs: list[Signs]) -> list[Signs]:
    """Repeat signs drawn at the neighbouring measure's barline go to the measure they mean."""
    for i, sign in enumerate(list(signs)):
        if sign.forward_next and i + 1 < len(signs):
            signs[i + 1] = replace(signs[i + 1], forward=True)
        if sign.backward_before and i:
            before = signs[i - 1]
            signs[i - 1] = replace(before, backward=True, times=before.times or sign.times)
        if sign.ending_stop_before and i:
            signs[i - 1] = replace(signs[i - 1], ending_stop=True)
    return signs


def _bare_codas(signs: list[Signs]) -> list[Signs]:
    """A bare coda sign: the first of two is left at, the last is leapt to.

    Beside "To Coda" or a leap it belongs to those words.
    """
    bare = [i for i, s in enumerate(signs) if s.coda_sign and not (s.to_coda or (s.jump and s.al))]
    if not bare:
        return signs
    if not any(s.to_coda for s in signs) and (len(bare) > 1 or any(s.coda for s in signs)):
        left = bare.pop(0)
        signs[left] = replace(signs[left], to_coda="*")
    if bare and not any(s.coda for s in signs):
        signs[bare[-1]] = replace(signs[bare[-1]], coda=("*",))
    return signs


def _early_leaps(signs: list[Signs]) -> list[Signs]:
    """Words that stand a measure early: the leap waits for the repeat that closes after it."""
    for i, (one, two) in enumerate(pairwise(list(signs))):
        if one.jump and two.backward and not one.backward and not two.jump:
            signs[i] = replace(one, jump="", jump_to="", al=())
            signs[i + 1] = replace(two, jump=one.jump, jump_to=one.jump_to, al=one.al)
    return signs


def _endings(signs: list[Signs]) -> list[tuple[int, ...]]:
    """The numbers of the ending that each measure belongs to."""
    found: list[tuple[int, ...]] = []
    current: tuple[int, ...] = ()
    has_stop = _stops(signs)
    for i, sign in enumerate(signs):
        if sign.ending_start:
            current = sign.ending_start
        found.append(current)
        if sign.ending_stop or sign.backward or (current and not has_stop[i]):
            current = ()
    return found


def _stretched(signs: list[Signs], numbers: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """A bracket drawn short: an ending lasts until the repeat right before the next ending."""
    last = -1
    for i, sign in enumerate(signs):
        if sign.ending_start and 0 <= last < i - 1 and signs[i - 1].backward:
            short = numbers[last]
            is_open = not any(s.forward or s.backward for s in signs[last : i - 1])
            if is_open and min(sign.ending_start) > max(short):
                numbers[last + 1 : i] = [short] * (i - 1 - last)
        if numbers[i]:
            last = i
    return numbers


def _stops(signs: list[Signs]) -> list[bool]:
    """Whether an ending that is open at each measure is ended by a sign of its own later."""
    result: list[bool] = []
    ahead = False
    for i in range(len(signs) - 1, -1, -1):
        sign = signs[i]
        ahead = sign.ending_stop or sign.backward or ahead
        result.append(ahead)
        if sign.ending_start:
            ahead = min(sign.ending_start) > 1
    return result[::-1]


def _groups(
    signs: list[Signs], numbers: list[tuple[int, ...]]
) -> tuple[tuple[int, ...], tuple[Group, ...]]:
    """Endings next to each other whose numbers go up belong together."""
    groups: list[int] = []
    found: list[Group] = []
    for i, ending in enumerate(numbers):
        if not ending:
            groups.append(-1)
            continue
        begins = bool(signs[i].ending_start)
        joins = i > 0 and bool(numbers[i - 1])
        if joins and begins and min(ending) <= max(numbers[i - 1]):
            joins = False
        if joins:
            last = found[-1]
            found[-1] = Group(last.first, i, max(last.passes, *ending))
        else:
            found.append(Group(i, i, max(ending)))
        groups.append(len(found) - 1)
    return tuple(groups), tuple(_with_way_on(signs, numbers, group) for group in found)


def _with_way_on(signs: list[Signs], numbers: list[tuple[int, ...]], group: Group) -> Group:
    """A single ending that repeats is left out the last time: one pass more than it has."""
    only = numbers[group.first]
    is_single = all(numbers[i] == only for i in range(group.first, group.last + 1))
    if is_single and signs[group.last].backward:
        return replace(group, passes=group.passes + 1)
    return group
