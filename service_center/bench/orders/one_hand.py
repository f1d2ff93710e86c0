"""Readings with one hand: one position after the other, large, and what was typed travels with the page.

The positions are those of the intake, so that the same ones are read again; otherwise those of the calibre's judging.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from service_center.bench.pictures import hundredths, signed, whole
from service_center.bench.queries import calibre_of
from service_center.bench.said import range_in_words, with_unit
from service_center.measurements.queries import judging_of, readings_of
from service_center.measurements.rules import HORIZONTAL, POSITIONS, Reading, Wind
from service_center.measurements.rules.limits import Judging
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.queries.control import counting_sheet, measured_of

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


def came_in(order: WorkOrder, here: Turn) -> Reading | None:
    """What was read in this position at intake. Four statements at most."""
    sheet = counting_sheet(order)
    readings = readings_of(sheet) if sheet else []
    return next((one for one in readings if (one.wind, one.position) == (here.wind, here.position)), None)


def beside_each(judging: Judging, here: Turn, before: Reading | None) -> dict[str, list[str]]:
    """What stands beside the value that is typed: what it was when the piece came in, and the calibre's limits."""
    lies = "horizontal" if here.position in HORIZONTAL else "vertical"
    later = "_24h" if here.wind is Wind.AFTER_24H else ""
    limits = {
        "rate": range_in_words(judging.limits["mean_rate"], "s/d") if not later else "",
        "amplitude": range_in_words(judging.limits[f"lowest_{lies}_amplitude{later}"], "°"),
        "beat_error": range_in_words(judging.limits["highest_beat_error"], "ms"),
    }
    written = {"rate": (signed, "s/d"), "amplitude": (whole, "°"), "beat_error": (hundredths, "ms")}
    found: dict[str, list[str]] = {}
    for value, (write, unit) in written.items():
        then = getattr(before, value) if before else None
        said = [] if then is None else [_("came in with %(value)s") % {"value": with_unit(write(then), unit)}]
        if limits[value]:
            bound = _("mean of the positions: %(limits)s") if value == "rate" else _("limit: %(limits)s")
            said.append(bound % {"limits": limits[value]})
        found[value] = said
    return found
