"""What to say where no plan exists: the smallest span that cannot be had."""

from collections.abc import Callable
from dataclasses import replace

from arrange.errors import LeverwrightError
from arrange.levers.problem import LeverProblem, Visit
from arrange.units import SECOND, Microseconds


class Infeasible(LeverwrightError):  # noqa: N818 - it names what is wrong
    """No plan exists.

    Attributes:
        since, until: the first and the last pluck of the span that cannot be had.
        strings: the names of its strings.
    """

    def __init__(self, since: Microseconds, until: Microseconds, strings: tuple[str, ...]) -> None:
        self.since = since
        self.until = until
        self.strings = strings
        super().__init__(
            f"no lever plan exists from {since / SECOND:.2f} s to {until / SECOND:.2f} s, "
            f"for the strings {', '.join(strings)}; give one of their notes another choice"
        )


def infeasible(problem: LeverProblem, has_plan: Callable[[LeverProblem], bool]) -> Infeasible:
    """Return the error for a problem without a plan; *has_plan* tells for shorter ones.

    The end and then the start of the span are found by bisection: what is left cannot be had,
    and can without its first or its last pluck.
    """
    times = sorted({visit.time for visit in problem.visits})
    if not times:
        return Infeasible(0, 0, tuple(string.name for string in problem.strings))

    def span(first: int, last: int) -> tuple[Visit, ...]:
        since, until = times[first], times[last]
        return tuple(v for v in problem.visits if since <= v.time <= until)

    def cannot_be_had(first: int, last: int) -> bool:
        return not has_plan(replace(problem, visits=span(first, last)))

    end = _first(len(times) - 1, lambda last: cannot_be_had(0, last))
    start = end - _first(end, lambda count: cannot_be_had(end - count, end))
    strings = sorted(
        {
            string
            for visit in span(start, end)
            for choice in problem.notes[visit.note].choices
            for string, _ in choice.demands
        }
    )
    names = tuple(problem.strings[string].name for string in strings)
    return Infeasible(times[start], times[end], names)


def _first(most: int, is_enough: Callable[[int], bool]) -> int:
    """Return the least count up to *most* that is enough; *most* is."""
    low, high = 0, most
    while low < high:
        middle = (low + high) // 2
        if is_enough(middle):
            high = middle
        else:
            low = middle + 1
    return low
