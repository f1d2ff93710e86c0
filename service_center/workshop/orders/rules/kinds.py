"""What kind of order follows from what an owner asks for."""

from collections.abc import Collection

from service_center.book.rules import EntryKind

# The greater work includes the lesser: an overhaul ends with a tightness test and may bring a new strap.
GREATEST_FIRST = (
    EntryKind.OVERHAUL,
    EntryKind.REPAIR,
    EntryKind.BATTERY,
    EntryKind.TIGHTNESS_CHECK,
    EntryKind.STRAP,
)


def kind_of(asked: Collection[EntryKind]) -> EntryKind:
    """The kind of the order; a piece that is left without a word is looked at as a repair."""
    return next((kind for kind in GREATEST_FIRST if kind in asked), EntryKind.REPAIR)
