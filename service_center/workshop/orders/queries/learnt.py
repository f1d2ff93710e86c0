"""What the house's own finished orders say of the minutes each operation takes."""

from collections import defaultdict
from datetime import UTC, date, datetime, time, timedelta

from django.core.cache import cache
from django.db.models import Sum

from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.models import OrderOperation, TimeSpent
from service_center.workshop.orders.rules.learning import Learnt, learn
from service_center.workshop.orders.rules.operations import Operation

# Hands and tools change: what was done longer ago says little of today. Ours to choose.
LOOKS_BACK = timedelta(days=3 * 365)
A_DAY = 24 * 60 * 60

Key = tuple[EntryKind, Complexity, Operation]


def learnt_times(as_of: date) -> dict[Key, Learnt]:
    """Learnt minutes by kind, complexity and operation, where enough orders were finished. One statement.

    An operation finished without any time written down says nothing, one of an unknown calibre neither; minutes that
    were taken back count no more.
    """
    rows = (
        OrderOperation.objects.filter(
            finished_at__date__lte=as_of,
            finished_at__date__gt=as_of - LOOKS_BACK,
            time__isnull=False,
            time__taken_back=None,
        )
        .exclude(order__complexity="")
        .order_by("pk")
        .values_list("pk", "order__kind", "order__complexity", "operation")
        .annotate(spent=Sum("time__minutes"))
    )
    spent: dict[Key, list[float]] = defaultdict(list)
    for _pk, kind, complexity, operation, minutes in rows:
        spent[EntryKind(kind), Complexity(complexity), Operation(operation)].append(float(minutes))
    found = {key: learn(minutes) for key, minutes in spent.items()}
    return {key: one for key, one in found.items() if one}


def learnt_before(as_of: date) -> dict[Key, Learnt]:
    """What was learnt up to the day before: the same all day long, so that only a day's first look reads it all.

    Two statements at most.
    """
    earlier = TimeSpent.objects.filter(at__lt=datetime.combine(as_of, time(), UTC)).order_by("-pk")
    latest = earlier.values_list("form_key", flat=True).first()
    if latest is None:
        return {}
    key = f"learnt:{as_of}:{latest}"
    found: dict[Key, Learnt] | None = cache.get(key)
    if found is None:
        found = learnt_times(as_of - timedelta(days=1))
        cache.set(key, found, A_DAY)
    return found
