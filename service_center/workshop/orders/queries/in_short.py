"""What an owner who calls wants to know of a piece in the house: where it stands, when it is ready, what it costs."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service_center.access.models import Staff
from service_center.workshop.orders.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.queries.listing import orders_visible_to
from service_center.workshop.orders.rules.lateness import days_late
from service_center.workshop.orders.rules.steps import Step


@dataclass(frozen=True, slots=True)
class InShort:
    """One order in the house. `estimate`: the latest, where one was written; `late`: days past the promise."""

    order: WorkOrder
    step: Step
    late: int
    estimate: OrderEstimate | None

    @property
    def agreed(self) -> bool | None:
        """What the owner said to the latest estimate; None where nothing, or where none was written."""
        answer = getattr(self.estimate, "answer", None)
        return answer.agreed if answer else None

    @property
    def costs(self) -> tuple[Decimal, str] | None:
        """What the owner pays: by the latest estimate, else as they signed at the counter; None: not known yet."""
        if self.estimate:
            return self.estimate.total, self.estimate.currency
        if self.order.agreed_total is not None:
            return self.order.agreed_total, self.order.agreed_currency
        return None


def in_short(pieces: Collection[int], staff: Staff, as_of: date) -> dict[int, InShort]:
    """The open order of each of some pieces, by the piece's key, as far as staff may see it. Two statements."""
    rows = orders_visible_to(staff).filter(piece__in=pieces, closed_on=None).select_related("boutique")
    orders = {order.pk: order for order in rows}
    estimates = OrderEstimate.objects.filter(order__in=list(orders)).select_related("answer").order_by("pk")
    latest = {one.order_id: one for one in estimates}
    return {
        order.piece_id: InShort(
            order,
            Step(order.step),
            days_late(Step(order.step), order.promised_on, order.ready_on, as_of),
            latest.get(order.pk),
        )
        for order in orders.values()
    }
