"""The operations of an order at the bench, and how long each takes.

Minutes and waits are common practice until the house writes its own; they add up to the bench hours of an overhaul
that planning starts from (4, 5.5, 9 and 18 hours).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from service_center.book.rules import Complexity, EntryKind


class Operation(StrEnum):
    """One kind of work. Source: design/workshop.md; cell and strap are common practice."""

    DIAGNOSIS = "diagnosis"  # reception and diagnosis
    UNCASING = "uncasing"
    DISMANTLING = "dismantling"
    CLEANING = "cleaning"
    ASSEMBLY = "assembly"  # assembly and lubrication
    REGULATION = "regulation"
    DIAL_AND_HANDS = "dial_and_hands"
    CELL = "cell"
    CASING = "casing"
    REFINISHING = "refinishing"
    STRAP = "strap"
    TIGHTNESS_TESTS = "tightness_tests"
    FINAL_CONTROL = "final_control"


SEQUENCE = tuple(Operation)
# From here on the case is, or was, open.
OPENS_THE_CASE = frozenset({
    Operation.UNCASING, Operation.DISMANTLING, Operation.CLEANING, Operation.ASSEMBLY, Operation.REGULATION,
    Operation.DIAL_AND_HANDS, Operation.CELL,
})  # fmt: skip
# Done before the order goes to the bench, and after it left it.
AT_RECEPTION = frozenset({Operation.DIAGNOSIS})
AT_CONTROL = frozenset({Operation.TIGHTNESS_TESTS, Operation.FINAL_CONTROL})


@dataclass(frozen=True, slots=True)
class Time:
    """Bench minutes of an operation, and hours that pass after it without a bench before the next one may begin."""

    minutes: int
    wait_hours: int = 0

    def __post_init__(self) -> None:
        if self.minutes < 0 or self.wait_hours < 0:
            raise ValueError(f"minutes and waiting hours are 0 or more, not {self.minutes} and {self.wait_hours}")


Times = Mapping[Operation, Time]

_O = Operation
# Oil settles for a day before regulation is judged; the final control runs over the full power reserve, for days.
_SETTLES, _RUNS_DOWN, _RESTS = 24, 72, 12


Row = tuple[Operation, tuple[int, int, int, int], int]


def _table(*rows: Row) -> dict[Complexity, dict[Operation, Time]]:
    """Rows of operation, minutes by complexity (simple, automatic, chronograph, complicated), waiting hours."""
    return {
        complexity: {operation: Time(minutes[at], wait) for operation, minutes, wait in rows}
        for at, complexity in enumerate(Complexity)
    }


HOUSE_TIMES: dict[EntryKind, dict[Complexity, dict[Operation, Time]]] = {
    EntryKind.OVERHAUL: _table(
        (_O.DIAGNOSIS, (15, 15, 20, 40), 0),
        (_O.UNCASING, (10, 10, 15, 20), 0),
        (_O.DISMANTLING, (25, 35, 65, 140), 0),
        (_O.CLEANING, (20, 25, 30, 50), 0),
        (_O.ASSEMBLY, (70, 110, 230, 560), _SETTLES),
        (_O.REGULATION, (25, 35, 55, 100), 0),
        (_O.DIAL_AND_HANDS, (15, 20, 30, 45), 0),
        (_O.CASING, (10, 15, 20, 25), 0),
        (_O.REFINISHING, (25, 30, 35, 45), 0),
        (_O.TIGHTNESS_TESTS, (10, 15, 15, 20), _RESTS),
        (_O.FINAL_CONTROL, (15, 20, 25, 35), _RUNS_DOWN),
    ),
    EntryKind.REPAIR: _table(
        (_O.DIAGNOSIS, (15, 15, 20, 40), 0),
        (_O.UNCASING, (10, 10, 15, 20), 0),
        (_O.DISMANTLING, (15, 20, 35, 80), 0),
        (_O.ASSEMBLY, (35, 45, 100, 220), _SETTLES),
        (_O.REGULATION, (20, 25, 35, 60), 0),
        (_O.DIAL_AND_HANDS, (10, 15, 20, 30), 0),
        (_O.CASING, (10, 15, 20, 25), 0),
        (_O.TIGHTNESS_TESTS, (10, 15, 15, 20), _RESTS),
        (_O.FINAL_CONTROL, (15, 20, 25, 35), _RUNS_DOWN),
    ),
    EntryKind.BATTERY: _table(
        (_O.UNCASING, (5, 5, 5, 5), 0),
        (_O.CELL, (5, 5, 10, 10), 0),
        (_O.CASING, (5, 5, 5, 5), 0),
        (_O.TIGHTNESS_TESTS, (10, 10, 10, 10), 0),
        (_O.FINAL_CONTROL, (5, 5, 5, 5), 0),
    ),
    EntryKind.TIGHTNESS_CHECK: _table((_O.TIGHTNESS_TESTS, (20, 20, 20, 20), 0),),
    EntryKind.STRAP: _table((_O.STRAP, (15, 15, 15, 15), 0),),
}  # fmt: skip

# What a model without a known calibre is planned as.
UNKNOWN_IS = Complexity.AUTOMATIC


def times_for(
    kind: EntryKind,
    complexity: Complexity | None,
    own: Mapping[tuple[EntryKind, Complexity, Operation], Time],
    *,
    rated: bool,
) -> dict[Operation, Time]:
    """The operations of an order with their times: the house's own over common practice.

    An unrated piece has no tightness tests, whatever its order is called. An own time of an operation that common
    practice does not have for this kind adds it; one of 0 minutes and no wait takes it out.
    """
    skill = complexity or UNKNOWN_IS
    usual = HOUSE_TIMES[kind][skill]
    found = {}
    for operation in SEQUENCE:
        time = own.get((kind, skill, operation), usual.get(operation))
        if time is None or time == Time(0) or (operation is Operation.TIGHTNESS_TESTS and not rated):
            continue
        found[operation] = time
    return found
