"""What sort of part it is, and how its stock moves."""

from enum import StrEnum

from service_center.book.rules import EntryKind


class PartSort(StrEnum):
    """Common practice: what a service uses up."""

    GASKET = "gasket"
    MAINSPRING = "mainspring"
    CROWN = "crown"
    CRYSTAL = "crystal"
    CELL = "cell"
    STRAP = "strap"
    MOVEMENT = "movement"  # any other part of a movement
    CASE = "case"  # any other part of a case


class StockReason(StrEnum):
    """Why the shelf holds more or less than before."""

    USED = "used"  # for an order
    DELIVERED = "delivered"
    COUNTED = "counted"  # what a count found more or less
    SPOILT = "spoilt"


# How much of a sort an order of each kind uses until the house's own orders say more. Common practice, no source: gaskets
# and the mainspring are changed at every overhaul, the rest when worn; a case that was opened gets a new gasket; a check
# that fails is seldom more than a gasket.
USUAL = {
    EntryKind.OVERHAUL: {
        PartSort.GASKET: 1.0, PartSort.MAINSPRING: 1.0, PartSort.CROWN: 0.3, PartSort.CRYSTAL: 0.1,
        PartSort.STRAP: 0.1, PartSort.MOVEMENT: 0.1, PartSort.CASE: 0.05,
    },
    EntryKind.REPAIR: {
        PartSort.GASKET: 0.7, PartSort.MAINSPRING: 0.1, PartSort.CROWN: 0.15, PartSort.CRYSTAL: 0.15,
        PartSort.MOVEMENT: 0.2, PartSort.CASE: 0.1,
    },
    EntryKind.TIGHTNESS_CHECK: {PartSort.GASKET: 0.15, PartSort.CROWN: 0.03},
    EntryKind.BATTERY: {PartSort.CELL: 1.0, PartSort.GASKET: 1.0},
    EntryKind.STRAP: {PartSort.STRAP: 1.0},
}  # fmt: skip


def usual_use(kind: EntryKind, sort: PartSort) -> float:
    """How many of a sort an order of a kind uses, by common practice."""
    return USUAL[kind].get(sort, 0.0)
