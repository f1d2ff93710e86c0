"""What owners were told of their orders in the house, and whom nobody has told yet."""

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Q

from service_center.book.rules import Place
from service_center.letters.models import OrderWord, StoppedAddress
from service_center.letters.queries.overtaken import LATEST_ESTIMATE, LATEST_READY
from service_center.letters.rules.addressing import one_address
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.words import LetterState, OrderNews
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.rules.steps import Step

# A letter in one of these states told its owner nothing.
NOT_TOLD = (LetterState.ENDED.value, LetterState.REFUSED.value)


def words_of(numbers: Collection[str]) -> list[OrderWord]:
    """What was written of some orders, the latest first, without the papers. One statement."""
    rows = OrderWord.objects.filter(number__in=numbers).select_related("letter__owner").defer("paper")
    return list(rows.order_by("-pk"))


@dataclass(frozen=True, slots=True)
class ToTell:
    """One order whose owner is to be told something and was not. `reason` None: a letter can go, none is written."""

    order: WorkOrder
    news: OrderNews
    reason: Reason | None


def orders_to_tell() -> list[ToTell]:
    """Orders in the house with news that nobody has told their owner, the longest waiting first. Three statements.

    News are an estimate that waits for its answer, and a piece that can be fetched at its boutique.
    """
    orders = list(
        WorkOrder.objects.filter(closed_on=None, owner__isnull=False)
        .filter(Q(step=Step.ESTIMATED.value) | Q(step=Step.READY.value, piece__place=Place.BOUTIQUE.value))
        .annotate(estimate=LATEST_ESTIMATE, ready=LATEST_READY)
        .select_related("owner", "piece__model", "boutique")
        .order_by("step_since", "pk")
    )
    told = {
        (word.number, word.news, word.key)
        for word in words_of([order.number for order in orders])
        if word.letter.state not in NOT_TOLD
    }
    emails = {order.owner.email.lower() for order in orders if order.owner}
    stopped = set(StoppedAddress.objects.filter(email__in=emails).values_list("email", flat=True))
    found = []
    for order in orders:
        news = OrderNews.ESTIMATE if order.step == Step.ESTIMATED else OrderNews.READY
        key = order.estimate if news is OrderNews.ESTIMATE else order.ready
        if order.owner and (order.number, news.value, key) not in told:
            found.append(ToTell(order, news, _reason(order.owner.email, stopped)))
    return found


def _reason(email: str, stopped: Collection[str]) -> Reason | None:
    if not one_address(email):
        return Reason.NO_EMAIL
    return Reason.ADDRESS_STOPPED if email.lower() in stopped else None
