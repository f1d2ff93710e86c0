"""Word about a visit or an order that is no longer so: a later one took its place, or what it asks was answered."""

from collections.abc import Collection, Sequence

from django.db.models import Exists, OuterRef, Subquery

from service_center.letters.models import Confirmation, Letter, OrderWord
from service_center.letters.rules.words import LetterSort, OrderNews
from service_center.workshop.models import OrderEstimate, OrderMove, WorkOrder
from service_center.workshop.orders.rules.steps import Step

# What an order's owner may be told of now: its latest estimate, and the latest move that made it ready.
LATEST_ESTIMATE = Subquery(OrderEstimate.objects.filter(order=OuterRef("pk")).order_by("-pk").values("pk")[:1])
LATEST_READY = Subquery(
    OrderMove.objects.filter(order=OuterRef("pk"), step=Step.READY.value).order_by("-pk").values("pk")[:1]
)

OF_VISIT = "a later word about the visit goes instead"
OF_ORDER = "a later estimate goes instead, or the order went on"


def overtaken(letters: Sequence[Letter]) -> dict[int, str]:
    """Why some of these letters may not go any more, whatever way they came back into the queue. Three statements."""
    visits = [letter.pk for letter in letters if letter.sort == LetterSort.CONFIRMATION]
    orders = [letter.pk for letter in letters if letter.sort == LetterSort.ORDER]
    return {
        **(dict.fromkeys(_visits_changed_since(visits), OF_VISIT) if visits else {}),
        **(dict.fromkeys(_orders_gone_on(orders), OF_ORDER) if orders else {}),
    }


def _visits_changed_since(letters: Collection[int]) -> list[int]:
    later = Confirmation.objects.filter(visit=OuterRef("visit"), sequence__gt=OuterRef("sequence"))
    return list(Confirmation.objects.filter(Exists(later), letter__in=letters).values_list("letter_id", flat=True))


def _orders_gone_on(letters: Collection[int]) -> list[int]:
    told = list(OrderWord.objects.filter(letter__in=letters).values_list("letter_id", "number", "news", "key"))
    orders = WorkOrder.objects.filter(
        number__in={number for _letter, number, _news, _key in told},
        step__in=[Step.ESTIMATED.value, Step.READY.value],
    ).annotate(estimate=LATEST_ESTIMATE, ready=LATEST_READY)
    now = {
        number: (OrderNews.ESTIMATE.value, estimate) if step == Step.ESTIMATED else (OrderNews.READY.value, ready)
        for number, step, estimate, ready in orders.values_list("number", "step", "estimate", "ready")
    }
    return [letter for letter, number, news, key in told if now.get(number) != (news, key)]
