"""What sort of part it is, and how its stock moves."""

from enum import StrEnum


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


# How much of a sort an overhaul uses until the house's own orders say more. Common practice, no source: gaskets and the
# mainspring are changed at every overhaul; the rest when worn.
USUAL_AT_OVERHAUL = {
    PartSort.GASKET: 1.0,
    PartSort.MAINSPRING: 1.0,
    PartSort.CROWN: 0.3,
    PartSort.CRYSTAL: 0.1,
    PartSort.CELL: 0.0,
    PartSort.STRAP: 0.1,
    PartSort.MOVEMENT: 0.1,
    PartSort.CASE: 0.05,
}
