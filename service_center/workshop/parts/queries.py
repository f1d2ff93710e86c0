"""What lies on the shelf, what an order used, and how often orders use a part."""

from collections import Counter, defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from service_center.book.rules import EntryKind
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.parts.models import Part, StockMove
from service_center.workshop.parts.rules import StockReason

LOOKS_BACK = timedelta(days=3 * 365)


def parts_with_stock() -> QuerySet[Part]:
    """Every part in use with `on_hand`, by number. One statement; each part's moves are summed off their index."""
    moves = StockMove.objects.filter(part=OuterRef("pk")).order_by().values("part").annotate(n=Sum("quantity"))
    return (
        Part.objects.filter(in_use=True)
        .select_related("calibre", "model")
        .annotate(on_hand=Coalesce(Subquery(moves.values("n")), 0))
        .order_by("number")
    )


def stock_of(part: Part) -> int:
    """What lies on the shelf of one part. One statement."""
    return int(StockMove.objects.filter(part=part).aggregate(n=Coalesce(Sum("quantity"), 0))["n"])


def parts_for(order: WorkOrder) -> list[Part]:
    """The parts that fit an order's piece: its model's, its calibre's, and those for any. One statement."""
    model = order.piece.model
    fits = Q(calibre=None, model=None)
    if model:
        fits |= Q(model=model)
        if model.calibre_id:
            fits |= Q(calibre=model.calibre_id)
    return list(parts_with_stock().filter(fits))


def parts_named(numbers: Collection[str]) -> dict[str, Part]:
    """Parts by their number. One statement."""
    return {part.number: part for part in Part.objects.filter(number__in=numbers).select_related("calibre", "model")}


def used_by(order: WorkOrder) -> list[tuple[Part, int]]:
    """What an order used, net of what was put back. Two statements."""
    sums: dict[int, int] = defaultdict(int)
    for part, quantity in StockMove.objects.filter(order=order).values_list("part", "quantity"):
        sums[part] -= quantity
    parts = Part.objects.in_bulk(sums)
    return [(parts[part], number) for part, number in sorted(sums.items()) if number]


@dataclass(frozen=True, slots=True)
class Usage:
    """How many of a part so many closed orders of one kind used of the calibre (or model) it fits."""

    used: int
    orders: int


def usage_of_parts(as_of: date) -> dict[int, dict[EntryKind, Usage]]:
    """Of every part in use, by kind of order, over those closed in the last three years. Four statements."""
    closed = WorkOrder.objects.filter(closed_on__lte=as_of, closed_on__gt=as_of - LOOKS_BACK, ready_on__isnull=False)
    by_calibre = _counted(closed, "piece__model__calibre")
    by_model = _counted(closed, "piece__model")
    every = Counter[str]()
    for (kind, _model), number in by_model.items():
        every[kind] += number
    used = {
        (part, kind): -quantity
        for part, kind, quantity in StockMove.objects.filter(reason=StockReason.USED.value, order__in=closed)
        .order_by()
        .values_list("part", "order__kind")
        .annotate(n=Sum("quantity"))
    }
    found = dict[int, dict[EntryKind, Usage]]()
    for part in Part.objects.filter(in_use=True):
        found[part.pk] = {}
        for kind in EntryKind:
            if part.calibre_id:
                orders = by_calibre[kind, part.calibre_id]
            elif part.model_id:
                orders = by_model[kind, part.model_id]
            else:
                orders = every[kind]
            found[part.pk][kind] = Usage(max(0, used.get((part.pk, kind), 0)), orders)
    return found


def _counted(orders: QuerySet[WorkOrder], by: str) -> Counter[tuple[str, int | None]]:
    rows = orders.order_by().values_list("kind", by).annotate(n=Count("pk"))
    return Counter({(kind, key): number for kind, key, number in rows})
