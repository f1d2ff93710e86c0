"""Readings with one hand: one position after the other, large, and what was typed travels with the page.

The positions are those of the intake, so that the same ones are read again; otherwise those of the calibre's judging.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service_center.bench.queries import calibre_of
from service_center.measurements.queries import judging_of
from service_center.measurements.rules import POSITIONS, Wind
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.queries.control import measured_of

Place = tuple[Wind, str]


@dataclass(frozen=True, slots=True)
class Turn:
    """Which position is read now, as the n-th of so many."""

    at: int
    of: int
    wind: Wind
    position: str

    @property
    def is_last(self) -> bool:
        return self.at == self.of - 1


def places_of(order: WorkOrder) -> list[Place]:
    """The positions to read, full wind first, each in the order of ISO 3158. Seven statements."""
    before = measured_of(order).positions_before
    if before:
        return sorted(
            ((Wind(wind), position) for position, wind in before if wind in (Wind.FULL, Wind.AFTER_24H)),
            key=lambda one: (list(Wind).index(one[0]), POSITIONS.index(one[1])),
        )
    judged = judging_of(calibre_of(order.piece)).positions
    return [(Wind.FULL, position) for position in POSITIONS if not judged or position in judged]


def turn(places: Sequence[Place], at: str) -> Turn:
    """The turn that a page asked for, the first where it asked for none."""
    index = int(at) if at.isascii() and at.isdigit() and len(at) < 4 else 0
    index = min(index, len(places) - 1)
    wind, position = places[index]
    return Turn(index, len(places), wind, position)
