"""The orders of an owner and what they answered to estimates, for the copy of their data (GDPR, Art. 15)."""

from typing import Any

from service_center.book.models import Owner
from service_center.workshop.models import OrderEstimate, WorkOrder


def orders_told(owner: Owner) -> list[dict[str, Any]]:
    """Every order an owner gave us, with its estimates and their answers. Two statements."""
    orders = list(WorkOrder.objects.filter(owner=owner).select_related("piece").order_by("pk"))
    estimates = OrderEstimate.objects.filter(order__in=orders).select_related("answer").order_by("pk")
    of_order: dict[int, list[dict[str, Any]]] = {order.pk: [] for order in orders}
    for one in estimates:
        of_order[one.order_id].append(_estimate(one))
    return [
        {
            "number": order.number,
            "serial": order.piece.serial,
            "work": order.kind,
            "opened_on": order.opened_on.isoformat(),
            "promised_on": order.promised_on.isoformat() if order.promised_on else None,
            "step": order.step,
            "ready_on": order.ready_on.isoformat() if order.ready_on else None,
            "handed_back_on": order.closed_on.isoformat() if order.closed_on else None,
            "estimates": of_order[order.pk],
        }
        for order in orders
    ]


def _estimate(one: OrderEstimate) -> dict[str, Any]:
    answer = getattr(one, "answer", None)
    return {
        "made_on": one.made_on.isoformat(),
        "valid_until": one.valid_until.isoformat(),
        "lines": one.lines,
        "total": str(one.total),
        "currency": one.currency,
        "note": one.note,
        "answer": {
            "agreed": answer.agreed,
            "said_on": answer.said_on.isoformat(),
            "heard": answer.heard,
            "your_words": answer.words,
        }
        if answer
        else None,
    }
