"""The estimate of an order as PDF, in its owner's language."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from service_center.guarantee import papers
from service_center.guarantee.estimate import Estimate, Line
from service_center.workshop.orders.actions import EstimateLine
from service_center.workshop.orders.models import OrderEstimate, WorkOrder


def estimate_paper(
    order: WorkOrder, lines: Sequence[EstimateLine], currency: str, *, made_on: date, valid_until: date, note: str
) -> bytes:
    """An estimate as it is about to be written, on the paper that printers hold in the boutique's country."""
    made = Estimate(
        number=order.number,
        made_on=made_on,
        valid_until=valid_until,
        currency=currency,
        lines=[Line(one.what, one.price, covered=one.covered, because=one.because) for one in lines],
        notes=[note] if note else [],
    )
    return papers.estimate(order.piece, made, size=papers.size_for(order.boutique.country))


def paper_of(estimate: OrderEstimate) -> bytes:
    """An estimate as it was written."""
    return estimate_paper(
        estimate.order,
        lines_of(estimate),
        estimate.currency,
        made_on=estimate.made_on,
        valid_until=estimate.valid_until,
        note=estimate.note,
    )


def lines_of(estimate: OrderEstimate) -> list[EstimateLine]:
    """The lines of an estimate as values."""
    return [
        EstimateLine(line["what"], Decimal(line["price"]), covered=line["covered"], because=line["because"])
        for line in estimate.lines
    ]
