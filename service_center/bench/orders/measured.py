"""What was measured at an order's piece when it came in, beside how it runs now, against its calibre's limits."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _

from service_center.bench import pictures
from service_center.bench.queries import calibre_of
from service_center.bench.said import VerdictRow, verdict_rows
from service_center.measurements.queries import judging_of
from service_center.measurements.rules import Reading, Wind
from service_center.measurements.rules.limits import verdicts_on
from service_center.workshop.orders.models import WorkOrder


def then_and_now(order: WorkOrder, before: Sequence[Reading], after: Sequence[Reading]) -> dict[str, Any]:
    """Readings by position at each wind, and the figures that either sheet gives. One statement."""
    if not before and not after:
        return {"winds": [], "figures": []}
    judging = judging_of(calibre_of(order.piece))
    winds = [
        (name, _beside(before, after, wind))
        for wind, name in ((Wind.FULL, _("Full wind")), (Wind.AFTER_24H, _("24 h later")))
    ]
    figures = [verdict_rows(verdicts_on(readings, judging)) for readings in (before, after)]
    return {
        "winds": [(name, rows) for name, rows in winds if rows],
        "figures": [pair for pair in zip(*figures, strict=True) if _is_given(pair)],
    }


def _beside(before: Sequence[Reading], after: Sequence[Reading], wind: Wind) -> list[pictures.BesideRow]:
    return pictures.beside(pictures.Named("", before, wind), pictures.Named("", after, wind))


def _is_given(pair: tuple[VerdictRow, ...]) -> bool:
    return any(one.value for one in pair)
