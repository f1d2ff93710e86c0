"""What is on order, what is late, and what became of an order of parts."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet, Sum

from service_center.workshop.parts.models import Part
from service_center.workshop.parts.ordered.models import OnOrder, OrderedPart, PartsDelivery

LATEST = 20


def as_it_holds(line: OrderedPart) -> tuple[int, date]:
    """How many of a line come in all, and when, by the latest word. One statement."""
    word = line.words.order_by("-pk").first()
    return (word.quantity, word.expected_on) if word else (line.quantity, line.expected_on)


def came_of(line: OrderedPart) -> int:
    """How many of a line lie on the shelf, or did. One statement."""
    return int(PartsDelivery.objects.filter(line=line).aggregate(n=Sum("move__quantity"))["n"] or 0)


def on_order() -> QuerySet[OnOrder]:
    """Every line of which something is still to come, the earliest day first. One statement over open lines."""
    return OnOrder.objects.select_related("line__order", "part").order_by("expected_on", "pk")


def overdue_deliveries(as_of: date) -> int:
    """Lines whose day is over and of which something is still to come. One statement, by index."""
    return OnOrder.objects.filter(expected_on__lt=as_of).count()


@dataclass(frozen=True, slots=True)
class Awaited:
    """So many of a part, expected on a day that may be over."""

    quantity: int
    expected_on: date


def awaited_by_part() -> dict[int, list[Awaited]]:
    """What is on order of each part, the earliest first. One statement over open lines."""
    found: dict[int, list[Awaited]] = defaultdict(list)
    for part, quantity, day in OnOrder.objects.order_by("expected_on", "pk").values_list(
        "part", "quantity", "expected_on"
    ):
        found[part].append(Awaited(quantity, day))
    return dict(found)


def open_lines_of(part: Part) -> list[OnOrder]:
    """What is on order of one part. One statement."""
    return list(on_order().filter(part=part))


def latest_lines_of(part: Part) -> list[OrderedPart]:
    """The latest orders of one part, open or not, with `came`. One statement."""
    lines = OrderedPart.objects.filter(part=part).select_related("order", "on_order")
    return list(lines.annotate(came=Sum("deliveries__move__quantity")).order_by("-pk")[:LATEST])
