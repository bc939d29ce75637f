"""What a group still has to pay at least from a column on, seen from one pass at a time.

One pass through the printed places is followed, locks and the other passes left out; where it
breaks off (a jump), it goes on from whatever setting is cheapest. Each pass gives a lower
bound, the highest counts.
"""

from arrange.levers.axis import Column
from arrange.levers.groups import ACT, NEVER, SCALE, Group
from arrange.levers.timetable import Timetable

Table = list[int]
"""For each setting what is still to pay at least."""


class Ahead:
    """The bounds of one group's columns.

    Attributes:
        tables: for each column (and the end) the cells to look at, and what their settings
            mean.
        least: what the whole group costs at least.
    """

    def __init__(self, group: Group, timetable: Timetable, columns: tuple[Column, ...]) -> None:
        self._group = group
        self._timetable = timetable
        self._columns = columns
        most = max((len(column.places) for column in columns), default=1)
        rows = [self._pass(number) for number in range(most)]
        self.tables = [list(one) for one in zip(*rows, strict=True)]
        self.least = min(
            (
                cost + max(table[setting if cell >= 0 else 0] for cell, table in self.tables[0])
                for setting, cost in group.starts
            ),
            default=NEVER,
        )

    def _pass(self, number: int) -> list[tuple[int, Table]]:
        """Return for each column, seen from one pass, its cell (-1: any) and table."""
        columns = self._columns
        cells = self._cells(number)
        table = [0] * (1 << len(self._group.strings))
        found = [(cells[len(columns)], table)]
        for order in range(len(columns) - 1, -1, -1):
            column = columns[order]
            if column.slot < 0:
                table = self._before_note(column, table, is_seen=len(column.places) > number)
            elif len(column.places) > number:
                table = self._before_slot(column, table, number)
            if cells[order] < 0:
                table = [min(table)] * len(table)
            found.append((cells[order], table))
        found.reverse()
        return found

    def _cells(self, number: int) -> list[int]:
        """Return the cell that tells the pass's setting before each column."""
        cells = []
        cell = 0
        for column in self._columns:
            cells.append(cell)
            if len(column.places) > number:
                cell = column.places[number].end
        return self._broken([*cells, -1], number)

    def _broken(self, cells: list[int], number: int) -> list[int]:
        """Blot out the cells before columns that do not follow on the pass's last one."""
        last = -1
        since = 0
        for order, column in enumerate(self._columns):
            if len(column.places) > number:
                if column.places[number].rank != last + 1:
                    cells[since : order + 1] = [-1] * (order + 1 - since)
                last, since = column.places[number].rank, order + 1
        cells[since:] = [-1] * (len(cells) - since)
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
