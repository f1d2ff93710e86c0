"""Overhauls to come by model, the orders that wait for a part, and what each part is needed for."""

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta

from django.db.models import Count, QuerySet, Sum

from service_center.book.models import WatchModel
from service_center.book.rules import Complexity, EntryKind, Place, ServiceKind
from service_center.intervals.models import DueDate
from service_center.planning.parts.models import PartOutlook
from service_center.planning.rules.parts_needed import shares_of_skills
from service_center.workshop.models import Part, StockMove, WorkOrder
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.parts.queries import parts_with_stock, usage_of_parts

# Whoever comes this long after today was due in it or before.
LOOKS_AHEAD = timedelta(weeks=52)
# From the control on the parts are in the watch; a declined order needs none.
MAY_USE_PARTS = (Step.LOGGED, Step.RECEIVED, Step.DIAGNOSED, Step.ESTIMATED, Step.AGREED, Step.ON_THE_BENCH)


def overhauls_due_by_model(as_of: date) -> dict[int | None, int]:
    """Overhauls due within a year, or overdue, of pieces with their owners, by model. One statement over due dates."""
    due = DueDate.objects.filter(
        kind=ServiceKind.OVERHAUL, starts_on__isnull=False, held="", piece__place=Place.OWNER,
        due_on__lt=as_of + LOOKS_AHEAD,
    )  # fmt: skip
    return dict(due.order_by().values_list("piece__model").annotate(n=Count("pk")))


def outlooks(as_of: date) -> list[PartOutlook]:
    """Every part in use, counted from the book. Seven statements; unsaved."""
    due, usage = overhauls_due_by_model(as_of), usage_of_parts(as_of)
    skills, of_calibre = dict[int, str](), dict[int, list[int]]()
    for model, calibre, skill in WatchModel.objects.values_list("pk", "calibre", "calibre__complexity"):
        skills[model] = skill or ""
        if calibre:
            of_calibre.setdefault(calibre, []).append(model)
    found = []
    for part in Part.objects.filter(in_use=True):
        used = usage.get(part.pk)
        if used is None:  # written down since
            continue
        if part.calibre_id:
            shares = shares_of_skills(due, skills, of_calibre.get(part.calibre_id, []))
        elif part.model_id:
            shares = shares_of_skills(due, skills, [part.model_id])
        else:
            shares = dict.fromkeys((skill.value for skill in Complexity), 1.0)
        found.append(PartOutlook(part=part, as_of=as_of, used=used.used, orders=used.orders, shares=shares))
    return found


def parts_with_outlook() -> QuerySet[Part]:
    """Every part in use with its stock and, where it has been counted, its outlook. One statement."""
    return parts_with_stock().select_related("outlook")


def waiting_for(parts: Sequence[Part]) -> dict[int, int]:
    """How many overhauls in the house have not used each part yet, and still may. Two statements over open orders."""
    open_now = WorkOrder.objects.filter(
        closed_on=None, kind=EntryKind.OVERHAUL.value, step__in=[step.value for step in MAY_USE_PARTS]
    )
    by_model, by_calibre = Counter[int](), Counter[int]()
    every = 0
    grouped = open_now.order_by().values_list("piece__model", "piece__model__calibre").annotate(n=Count("pk"))
    for model, calibre, number in grouped:
        every += number
        by_model[model] += number
        by_calibre[calibre] += number
    net = StockMove.objects.filter(order__in=open_now).order_by().values_list("part", "order")
    has_it = Counter(part for part, _order, quantity in net.annotate(n=Sum("quantity")) if quantity < 0)
    found = {}
    for part in parts:
        fitting = every
        if part.calibre_id:
            fitting = by_calibre[part.calibre_id]
        elif part.model_id:
            fitting = by_model[part.model_id]
        found[part.pk] = max(0, fitting - has_it[part.pk])
    return found
