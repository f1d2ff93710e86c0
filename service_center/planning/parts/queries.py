"""Orders to come by model, the orders that may use a part yet, and what each part is needed for."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Sum

from service_center.book.models import WatchModel
from service_center.book.rules import Complexity, EntryKind, Place, ServiceKind
from service_center.intervals.models import DueDate
from service_center.planning.parts.expected import WEEKS, WITHOUT_LETTERS, checks_ahead, orders_lately
from service_center.planning.parts.models import PartOutlook
from service_center.planning.rules.curves import LetterCurve
from service_center.planning.rules.parts_needed import shares_of_skills
from service_center.workshop.models import Part, StockMove, WorkOrder
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.parts.ordered.queries import Awaited, awaited_by_part
from service_center.workshop.parts.queries import usage_of_parts

# Whoever comes this long after today was due in it or before.
LOOKS_AHEAD = timedelta(weeks=52)
# No request takes so long.
BEING_WRITTEN = timedelta(minutes=10)
# From the control on the parts are in the watch; a declined order needs none.
MAY_USE_PARTS = (Step.LOGGED, Step.RECEIVED, Step.DIAGNOSED, Step.ESTIMATED, Step.AGREED, Step.ON_THE_BENCH)


def due_by_model(as_of: date, kind: ServiceKind) -> dict[int | None, int]:
    """Services due within a year, or overdue, of pieces with their owners, by model. One statement over due dates."""
    due = DueDate.objects.filter(
        kind=kind, starts_on__isnull=False, held="", piece__place=Place.OWNER, due_on__lt=as_of + LOOKS_AHEAD
    )
    return dict(due.order_by().values_list("piece__model").annotate(n=Count("pk")))


def last_settled_move(now: datetime) -> int:
    """The id up to which no move is still being written: ids are given out before they are committed. One statement."""
    settled = StockMove.objects.filter(at__lte=now - BEING_WRITTEN).order_by("-pk")
    return settled.values_list("pk", flat=True).first() or 0


@dataclass(frozen=True, slots=True)
class _Models:
    """The book's models: each one's skill, and those of each calibre."""

    skills: Mapping[int, str]
    of_calibre: Mapping[int, Sequence[int]]

    @classmethod
    def of_the_book(cls) -> "_Models":
        skills, of_calibre = dict[int, str](), dict[int, list[int]]()
        for model, calibre, skill in WatchModel.objects.values_list("pk", "calibre", "calibre__complexity"):
            skills[model] = skill or ""
            if calibre:
                of_calibre.setdefault(calibre, []).append(model)
        return cls(skills, of_calibre)

    def fitting(self, part: Part) -> Sequence[int] | None:
        """The models that a part fits; None: any."""
        if part.calibre_id:
            return self.of_calibre.get(part.calibre_id, ())
        return [part.model_id] if part.model_id else None

    def shares(self, due: Mapping[int | None, int], fitting: Collection[int] | None) -> dict[str, float]:
        """The share of each skill's services that parts of these models fit."""
        if fitting is None:
            return dict.fromkeys((skill.value for skill in Complexity), 1.0)
        return shares_of_skills(due, self.skills, fitting)


def outlooks(as_of: date, now: datetime, curves: Collection[LetterCurve]) -> list[PartOutlook]:
    """Every part in use, counted from the book. Sixteen statements; unsaved."""
    overhauls, checks = due_by_model(as_of, ServiceKind.OVERHAUL), due_by_model(as_of, ServiceKind.TIGHTNESS)
    usage, upto = usage_of_parts(as_of), last_settled_move(now)
    models, expected, lately = _Models.of_the_book(), checks_ahead(as_of, curves), orders_lately(as_of)
    found, parts = [], list(Part.objects.filter(in_use=True))
    waiting = waiting_for(parts, upto)
    moved = StockMove.objects.filter(pk__lte=upto).order_by().values_list("part")
    on_hand = dict(moved.annotate(n=Sum("quantity")))
    for part in parts:
        used = usage.get(part.pk)
        if used is None:  # written down since
            continue
        fitting = models.fitting(part)
        ahead = {kind.value: [lately.a_week(kind, fitting, as_of)] * WEEKS for kind in WITHOUT_LETTERS}
        ahead[EntryKind.TIGHTNESS_CHECK.value] = _added_up(expected, models.shares(checks, fitting))
        found.append(
            PartOutlook(
                part=part, as_of=as_of, shares=models.shares(overhauls, fitting), ahead=ahead,
                kinds={
                    kind.value: {"used": one.used, "orders": one.orders, "waiting": waiting[part.pk][kind]}
                    for kind, one in used.items()
                },
                on_hand=on_hand.get(part.pk, 0), last_move=upto,
            )
        )  # fmt: skip
    return found


def _added_up(expected: Mapping[str, Sequence[float]], shares: Mapping[str, float]) -> list[float]:
    return [sum(shares.get(skill, 0.0) * weeks[week] for skill, weeks in expected.items()) for week in range(WEEKS)]


@dataclass(frozen=True, slots=True)
class Counted:
    """A part with its outlook; its stock, the orders that may use it (by kind) and what is on order as they are now."""

    part: Part
    outlook: PartOutlook
    on_hand: int
    waiting: Mapping[EntryKind, int]
    awaited: Sequence[Awaited]


def counted_parts() -> tuple[list[Counted], list[Part]]:
    """Every part in use, by number; those that have not been counted yet apart. Three statements.

    The second reads the moves since the count: those of a day; the third what is on order.
    """
    parts = list(Part.objects.filter(in_use=True).select_related("calibre", "model", "outlook").order_by("number"))
    outlooks = [part.outlook for part in parts if hasattr(part, "outlook")]
    since = StockMove.objects.filter(pk__gt=min((one.last_move for one in outlooks), default=0))
    moved, has_it = Counter[int](), Counter[tuple[int, str]]()
    for part, order, kind, quantity in (
        since.order_by().values_list("part", "order", "order__kind").annotate(n=Sum("quantity"))
    ):
        moved[part] += quantity
        if order:
            has_it[part, kind] += (quantity < 0) - (quantity > 0)
    awaited = awaited_by_part()
    counted = [
        Counted(
            one.part, one, one.on_hand + moved[one.part_id],
            {
                EntryKind(kind): max(0, told["waiting"] - has_it[one.part_id, kind])
                for kind, told in one.kinds.items()
            },
            awaited.get(one.part_id, ()),
        )
        for one in outlooks
    ]  # fmt: skip
    return counted, [part for part in parts if not hasattr(part, "outlook")]


def waiting_for(parts: Sequence[Part], upto: int) -> dict[int, Counter[EntryKind]]:
    """How many orders of each kind in the house have not used each part yet, and still may, by the moves up to an id.

    Two statements over open orders.
    """
    open_now = WorkOrder.objects.filter(closed_on=None, step__in=[step.value for step in MAY_USE_PARTS])
    by_model, by_calibre, every = Counter[tuple[str, int]](), Counter[tuple[str, int]](), Counter[str]()
    grouped = open_now.order_by().values_list("kind", "piece__model", "piece__model__calibre").annotate(n=Count("pk"))
    for kind, model, calibre, number in grouped:
        every[kind] += number
        by_model[kind, model] += number
        by_calibre[kind, calibre] += number
    net = StockMove.objects.filter(order__in=open_now, pk__lte=upto).order_by()
    used = net.values_list("part", "order", "order__kind").annotate(n=Sum("quantity"))
    has_it = Counter((part, kind) for part, _order, kind, quantity in used if quantity < 0)
    found = {}
    for part in parts:
        found[part.pk] = Counter[EntryKind]()
        for kind in EntryKind:
            fitting = every[kind]
            if part.calibre_id:
                fitting = by_calibre[kind, part.calibre_id]
            elif part.model_id:
                fitting = by_model[kind, part.model_id]
            found[part.pk][kind] = max(0, fitting - has_it[part.pk, kind])
    return found
