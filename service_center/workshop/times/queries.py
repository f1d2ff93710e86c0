"""The table of one kind of order: common practice, the house's own, and what was learnt."""

from dataclasses import dataclass
from datetime import date

from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.queries.learnt import learnt_before
from service_center.workshop.orders.queries.open_orders import own_times
from service_center.workshop.orders.rules.learning import Learnt
from service_center.workshop.orders.rules.operations import HOUSE_TIMES, SEQUENCE, Operation, Time


@dataclass(frozen=True, slots=True)
class Cell:
    """One operation at one complexity. `time` None: not part of such an order. `own`: the house wrote it itself."""

    complexity: Complexity
    time: Time | None
    own: bool
    learnt: Learnt | None

    @property
    def differs(self) -> bool:
        """Whether what was learnt would change the table."""
        return self.learnt is not None and (self.time is None or round(self.learnt.minutes) != self.time.minutes)


@dataclass(frozen=True, slots=True)
class Row:
    """One operation at every complexity."""

    operation: Operation
    cells: tuple[Cell, ...]


def table_of(kind: EntryKind, as_of: date) -> list[Row]:
    """The operations of a kind of order in their sequence, with what was learnt up to the day before. Three statements at most."""
    own, learnt = own_times(), learnt_before(as_of)
    rows = []
    for operation in SEQUENCE:
        cells = []
        for complexity in Complexity:
            key = (kind, complexity, operation)
            time = own.get(key, HOUSE_TIMES[kind][complexity].get(operation))
            cells.append(Cell(complexity, None if time == Time(0) else time, key in own, learnt.get(key)))
        if any(cell.time or cell.learnt for cell in cells):
            rows.append(Row(operation, tuple(cells)))
    return rows
