"""Overhauls to come by model, the orders that wait for a part, and what each part is needed for."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Sum

from service_center.book.models import WatchModel
from service_center.book.rules import Complexity, EntryKind, Place, ServiceKind
from service_center.intervals.models import DueDate
from service_center.planning.parts.models import PartOutlook
from service_center.planning.rules.parts_needed import shares_of_skills
from service_center.workshop.models import Part, StockMove, WorkOrder
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.parts.queries import usage_of_parts

# Whoever comes this long after today was due in it or before.
LOOKS_AHEAD = timedelta(weeks=52)
# No request takes so long.
BEING_WRITTEN = timedelta(minutes=10)
# From the control on the parts are in the watch; a declined order needs none.
MAY_USE_PARTS = (Step.LOGGED, Step.RECEIVED, Step.DIAGNOSED, Step.ESTIMATED, Step.AGREED, Step.ON_THE_BENCH)


def overhauls_due_by_model(as_of: date) -> dict[int | None, int]:
    """Overhauls due within a year, or overdue, of pieces with their owners, by model. One statement over due dates."""
    due = DueDate.objects.filter(
        kind=ServiceKind.OVERHAUL, starts_on__isnull=False, held="", piece__place=Place.OWNER,
        due_on__lt=as_of + LOOKS_AHEAD,
    )  # fmt: skip
    return dict(due.order_by().values_list("piece__model").annotate(n=Count("pk")))


def last_settled_move(now: datetime) -> int:
    """The id up to which no move is still being written: ids are given out before they are committed. One statement."""
    settled = StockMove.objects.filter(at__lte=now - BEING_WRITTEN).order_by("-pk")
    return settled.values_list("pk", flat=True).first() or 0


def outlooks(as_of: date, now: datetime) -> list[PartOutlook]:
    """Every part in use, counted from the book. Eleven statements; unsaved."""
    due, usage, upto = overhauls_due_by_model(as_of), usage_of_parts(as_of), last_settled_move(now)
    skills, of_calibre = dict[int, str](), dict[int, list[int]]()
    for model, calibre, skill in WatchModel.objects.values_list("pk", "calibre", "calibre__complexity"):
        skills[model] = skill or ""
        if calibre:
            of_calibre.setdefault(calibre, []).append(model)
    found, parts = [], list(Part.objects.filter(in_use=True))
    waiting = waiting_for(parts, upto)
    moved = StockMove.objects.filter(pk__lte=upto).order_by().values_list("part")
    on_hand = dict(moved.annotate(n=Sum("quantity")))
    for part in parts:
        used = usage.get(part.pk)
        if used is None:  # written down since
            continue
        if part.calibre_id:
            shares = shares_of_skills(due, skills, of_calibre.get(part.calibre_id, []))
        elif part.model_id:
            shares = shares_of_skills(due, skills, [part.model_id])
        else:
            shares = dict.fromkeys((skill.value for skill in Complexity), 1.0)
        found.append(
            PartOutlook(
                part=part, as_of=as_of, used=used.used, orders=used.orders, shares=shares,
                on_hand=on_hand.get(part.pk, 0), waiting=waiting[part.pk], last_move=upto,
            )
        )  # fmt: skip
    return found


@dataclass(frozen=True, slots=True)
class Counted:
    """A part with its outlook, and its stock and the orders that wait for it as they are now."""

    part: Part
    outlook: PartOutlook
    on_hand: int
    waiting: int


def counted_parts() -> tuple[list[Counted], list[Part]]:
    """Every part in use, by number; those that have not been counted yet apart. Two statements.

    The second reads the moves since the count: those of a day.
    """
    parts = list(Part.objects.filter(in_use=True).select_related("calibre", "model", "outlook").order_by("number"))
    outlooks = [part.outlook for part in parts if hasattr(part, "outlook")]
    since = StockMove.objects.filter(pk__gt=min((one.last_move for one in outlooks), default=0))
    moved, has_it = Counter[int](), Counter[int]()
    for part, order, kind, quantity in (
        since.order_by().values_list("part", "order", "order__kind").annotate(n=Sum("quantity"))
    ):
        moved[part] += quantity
        if order and kind == EntryKind.OVERHAUL:
            has_it[part] += (quantity < 0) - (quantity > 0)
    counted = [
        Counted(one.part, one, one.on_hand + moved[one.part_id], max(0, one.waiting - has_it[one.part_id]))
        for one in outlooks
    ]
    return counted, [part for part in parts if not hasattr(part, "outlook")]


def waiting_for(parts: Sequence[Part], upto: int) -> dict[int, int]:
    """How many overhauls in the house have not used each part yet, and still may, by the moves up to an id.

    Two statements over open orders.
    """
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
    net = StockMove.objects.filter(order__in=open_now, pk__lte=upto).order_by().values_list("part", "order")
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
