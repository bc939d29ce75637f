"""What a group still has to pay at least from a column on, seen from one pass at a time.

One pass through the printed places is followed, locks and the other passes left out; where it
breaks off (a jump), it goes on from whatever setting is cheapest, but where a guess was made
of how it ends, it must end so. Each pass gives a lower bound, the highest counts.
"""

from arrange.levers.axis import Column
from arrange.levers.cells import State
from arrange.levers.groups import ACT, NEVER, SCALE, Group
from arrange.levers.timetable import Timetable

Table = list[int]
"""For each setting what is still to pay at least."""

View = tuple[int, int, list[Table]]
"""What one pass tells: the cell with its setting and the cell with the guess of how it ends
(-1: any), and a table for each guess."""


class Ahead:
    """The bounds of one group's columns.

    Attributes:
        views: for each column (and the end) what each pass tells.
        floors: for each column (and the end) what is to pay whatever the state.
        least: what the whole group costs at least.
    """

    def __init__(self, group: Group, timetable: Timetable, columns: tuple[Column, ...]) -> None:
        self._group = group
        self._timetable = timetable
        self._columns = columns
        self._settings = 1 << len(group.strings)
        most = max((len(column.places) for column in columns), default=1)
        passes = [self._pass(number) for number in range(most)]
        self.views: list[list[View]] = [list(one) for one in zip(*passes, strict=True)]
        self.floors = [
            max(min(map(min, tables)) for _, _, tables in views) for views in self.views
        ]
        self.least = min(
            (
                cost
                + max(
                    min(table[setting if cell >= 0 else 0] for table in tables)
                    for cell, _, tables in self.views[0]
                )
                for setting, cost in group.starts
            ),
            default=NEVER,
        )

    def still(self, number: int, state: State) -> int:
        """Return what is to pay at least from *state*, before column *number*, on."""
        least = -NEVER
        for cell, guess, tables in self.views[number]:
            known = state[guess] if guess >= 0 else None
            table = tables[known[0] if known is not None else 0]
            end = state[cell] if cell >= 0 else None
            least = max(least, table[end[0] if end is not None else 0])
        return least

    def _pass(self, number: int) -> list[View]:
        """Return what one pass tells before each column, and at the end."""
        columns = self._columns
        cells = self._cells(number)
        guess = -1
        tables: list[Table] = [[0] * self._settings]
        views: list[View] = [(-1, -1, tables)]
        for order in range(len(columns) - 1, -1, -1):
            column = columns[order]
            if len(column.places) > number:
                join = column.places[number].join
                if join is not None:
                    guess = join.guess
                    tables = _ending(tables, self._settings)
            tables = [self._before(column, table, number) for table in tables]
            if any(place.opens and place.guess == guess for place in column.places):
                guess = -1
                tables = [list(map(min, *tables))] if len(tables) > 1 else tables
            if cells[order] < 0:
                tables = [[min(table)] * self._settings for table in tables]
            views.append((cells[order], guess, tables))
        views.reverse()
        return views

    def _before(self, column: Column, table: Table, number: int) -> Table:
        if column.slot < 0:
            return self._before_note(column, table, is_seen=len(column.places) > number)
        if len(column.places) > number:
            return self._before_slot(column, table, number)
        return table

    def _cells(self, number: int) -> list[int]:
        """Return the cell that tells the pass's setting before each column, -1 where none does.

        None does before columns that do not follow on the pass's last one.
        """
        cells = [-1] * len(self._columns)
        cell, last, since = 0, -1, 0
        for order, column in enumerate(self._columns):
            if len(column.places) > number:
                place = column.places[number]
                if place.rank == last + 1:
                    cells[since : order + 1] = [cell] * (order + 1 - since)
                cell, last, since = place.end, place.rank, order + 1
        return cells

    def _before_note(self, column: Column, after: Table, *, is_seen: bool) -> Table:
        choices = self._group.notes[column.note].choices
        if not is_seen:
            least = min((choice.cost for choice in choices), default=NEVER)
            return [min(NEVER, least + cost) for cost in after]
        before = [NEVER] * len(after)
        for choice in choices:
            mask, value, cost = choice.mask, choice.value, choice.cost
            for setting, later in enumerate(after):
                if setting & mask == value and cost + later < before[setting]:
                    before[setting] = cost + later
        return before

    def _before_slot(self, column: Column, after: Table, number: int) -> Table:
        for string in column.strings:
            bit = 1 << string
            raising = self._least_price(column, string, 1, number)
            lowering = self._least_price(column, string, 0, number)
            before = list(after)
            for setting in range(len(after)):
                price = lowering if setting & bit else raising
                before[setting] = min(before[setting], price + after[setting ^ bit])
            after = before
        return after

    def _least_price(self, column: Column, string: int, raised: int, number: int) -> int:
        if raised and not self._group.can_rise >> string & 1:
            return NEVER
        reach = self._group.reaches[string]
        least = NEVER
        for hand in range(len(self._timetable.hands)):
            price = self._timetable.price(column.slot, reach, hand, 1 << number)
            if price is not None:
                total = price * SCALE + ACT
                if len(column.places) == 1:
                    total += sum(
                        extra[4]
                        for extra in self._group.extras[string]
                        if extra[:3] == (raised, column.slot, hand)
                    )
                least = min(least, total)
        return least


def _ending(tables: list[Table], settings: int) -> list[Table]:
    """Return for each guess the table that lets no other setting pass."""
    least = min(map(min, tables))
    return [
        [least if setting == guess else NEVER for setting in range(settings)]
        for guess in range(settings)
    ]
