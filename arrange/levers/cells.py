"""The cells of a state: what is known of the levers at the end of each thread."""

from arrange.levers.axis import Column, Place

FREE = -(1 << 61)
"""The release of a string that nothing locks."""

INHERITED = FREE - 1
"""The release of a string not plucked since its thread's guess.

A string that has been moved is released by its next pluck only (its release is ``FOREVER``):
a second move before that would be needless."""

Releases = tuple[int, ...]
Cell = tuple[int, Releases, int] | None
State = tuple[Cell, ...]


def replaced(releases: Releases, string: int, release: int) -> Releases:
    """The releases with another one for *string*."""
    return (*releases[:string], release, *releases[string + 1 :])


def plucked(end: tuple[int, Releases, int], mask: int, lock: int) -> tuple[int, Releases, int]:
    """Return *end* after a pluck of the strings in *mask*, which are locked until *lock*."""
    setting, releases, fresh = end
    locked = tuple(
        (max(lock, old) if fresh >> string & 1 else lock) if mask >> string & 1 else old
        for string, old in enumerate(releases)
    )
    return setting, locked, fresh | mask


def settled(cells: list[Cell], column: Column) -> State | None:
    """Return the state after *column*, None where a guess proves wrong."""
    for place in column.places:
        if place.goes_on:
            continue
        end = cells[place.end]
        if end is None:
            return None
        if place.is_last:
            cells[place.end] = None
            continue
        setting, releases, fresh = end
        cells[place.end] = (
            setting,
            tuple(
                FREE if release != INHERITED and release <= place.horizon else release
                for release in releases
            ),
            fresh if place.is_struck_with_next else 0,
        )
        if place.join is not None and not _is_joined(cells, place):
            return None
    return tuple(cells)


def _is_joined(cells: list[Cell], place: Place) -> bool:
    """Tie the thread that ends at *place* to the one that was guessed to follow."""
    join = place.join
    end = cells[place.end]
    if join is None or end is None:
        return False
    guess, later = cells[join.guess], cells[join.end]
    if guess is None or guess[0] != end[0]:
        return False
    own = cells[join.own] if join.own >= 0 else None
    if not all(
        release in (INHERITED, bearable) or release < bearable
        for release, bearable in zip(end[1], guess[1], strict=True)
    ):
        return False
    if own is not None:
        cells[join.own] = _bearing(own, end[1], guess[1])
    if later is not None:
        cells[join.end] = _inheriting(later, end[1])
    cells[join.guess] = None
    cells[place.end] = None
    return True


def _bearing(
    own: tuple[int, Releases, int], releases: Releases, bearable: Releases
) -> tuple[int, Releases, int]:
    """The guess with what strings not plucked since must bear."""
    for string, release in enumerate(releases):
        if release == INHERITED and bearable[string] < own[1][string]:
            own = (own[0], replaced(own[1], string, bearable[string]), -1)
    return own


def _inheriting(later: tuple[int, Releases, int], before: Releases) -> tuple[int, Releases, int]:
    """The cell with the releases of strings not plucked since its thread began."""
    releases = tuple(
        old if new == INHERITED else new for new, old in zip(later[1], before, strict=True)
    )
    return later[0], releases, later[2]
