"""The orders of an owner, what they were told of them and what they answered, for the copy of their data (GDPR, Art. 15)."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from service_center.book.models import Owner
from service_center.letters.models import OrderWord
from service_center.letters.queries.orders import words_of
from service_center.workshop.models import OrderEstimate, WorkOrder


@dataclass(frozen=True, slots=True)
class OrderKept:
    """One order with its estimates and with what its owner was told of it, the first first."""

    order: WorkOrder
    estimates: Sequence[OrderEstimate]
    words: Sequence[OrderWord]


def orders_kept(owner: Owner) -> list[OrderKept]:
    """Every order that an owner gave us. Three statements."""
    orders = list(WorkOrder.objects.filter(owner=owner).select_related("piece", "boutique").order_by("pk"))
    estimates = OrderEstimate.objects.filter(order__in=orders).select_related("answer").order_by("pk")
    of_order: dict[int, list[OrderEstimate]] = {order.pk: [] for order in orders}
    for one in estimates:
        of_order[one.order_id].append(one)
    told: dict[str, list[OrderWord]] = {order.number: [] for order in orders}
    for word in reversed(words_of(list(told))):
        if word.letter.owner_id == owner.pk:
            told[word.number].append(word)
    return [OrderKept(order, of_order[order.pk], told[order.number]) for order in orders]


def orders_told(owner: Owner) -> list[dict[str, Any]]:
    """The same as plain values."""
    return [
        {
            "number": kept.order.number,
            "serial": kept.order.piece.serial,
            "work": kept.order.kind,
            "opened_on": kept.order.opened_on.isoformat(),
            "agreed_at_the_counter": _agreed(kept.order),
            "promised_on": kept.order.promised_on.isoformat() if kept.order.promised_on else None,
            "step": kept.order.step,
            "ready_on": kept.order.ready_on.isoformat() if kept.order.ready_on else None,
            "handed_back_on": kept.order.closed_on.isoformat() if kept.order.closed_on else None,
            "estimates": [_estimate(one) for one in kept.estimates],
            "told": [_word(one) for one in kept.words],
        }
        for kept in orders_kept(owner)
    ]


def _agreed(order: WorkOrder) -> dict[str, str] | None:
    if order.agreed_total is None:
        return None
    return {"total": str(order.agreed_total), "currency": order.agreed_currency}


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


def _word(one: OrderWord) -> dict[str, Any]:
    return {
        "on": one.letter.planned_on.isoformat(),
        "news": one.news,
        "how": one.letter.channel,
        "state": one.letter.state,
        "letter": one.letter_id,
    }
