"""Orders as a list, and who sees which. Keyset paging; the orders in the house are a few hundred of all there ever were."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Piece
from service_center.book.rules import serial_key
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.rules.numbers import number_meant
from service_center.workshop.orders.rules.steps import Step

PAGE = 50
# An order without a promise comes after all that have one.
NO_PROMISE = date(9999, 12, 31)


def orders_visible_to(staff: Staff) -> QuerySet[WorkOrder]:
    """All orders for the desk, the benches and the manager; for a boutique those it took in."""
    rows = WorkOrder.objects.all()
    return rows.filter(boutique__code=staff.boutique) if staff.role == Role.BOUTIQUE else rows


def order_meant(text: str, staff: Staff) -> WorkOrder | None:
    """The order whose number was typed or scanned, where this member of staff may see it. One statement at most."""
    number = number_meant(text)
    return orders_visible_to(staff).filter(number=number).first() if number else None


def latest_order_of(piece: Piece, staff: Staff) -> WorkOrder | None:
    """The order a piece is here for, or the last it had, where this member of staff may see it. One statement."""
    return orders_visible_to(staff).filter(piece=piece).order_by("-pk").first()


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which orders: `step` None is all in the house; `text` an order's number or the beginning of a serial."""

    step: Step | None = None
    boutique: str = ""
    kind: str = ""
    text: str = ""

    @property
    def newest_first(self) -> bool:
        """What is looked for by name, or is over, is listed by when it came; what is in the house by its promise."""
        return bool(self.text) or self.step is Step.HANDED_BACK


@dataclass(frozen=True, slots=True)
class OrdersPage:
    """One page; `following` is where the next begins, empty at the end."""

    rows: Sequence[WorkOrder]
    following: str


def orders_page(staff: Staff, chosen: Chosen, after: str = "") -> OrdersPage:
    """Orders in the house, the earliest promise first; those that are over, or are looked for, newest first.

    A key that nothing gave is the first page. One statement.
    """
    rows = _chosen(orders_visible_to(staff), chosen)
    rows = rows.select_related("piece__model", "owner", "boutique", "bench")
    rows = rows.annotate(by=Coalesce("promised_on", Value(NO_PROMISE)))
    key = _key(after)
    if chosen.newest_first:
        rows = rows.filter(pk__lt=key[1]) if key else rows
        page = list(rows.order_by("-pk")[: PAGE + 1])
    else:
        rows = rows.filter(Q(by__gt=key[0]) | Q(by=key[0], pk__gt=key[1])) if key else rows
        page = list(rows.order_by("by", "pk")[: PAGE + 1])
    last = page[PAGE - 1] if len(page) > PAGE else None
    return OrdersPage(page[:PAGE], f"{last.by.isoformat()}.{last.pk}" if last else "")


def _chosen(rows: QuerySet[WorkOrder], chosen: Chosen) -> QuerySet[WorkOrder]:
    if chosen.boutique:
        rows = rows.filter(boutique__code=chosen.boutique)
    if chosen.kind:
        rows = rows.filter(kind=chosen.kind)
    if chosen.step:
        rows = rows.filter(step=chosen.step.value)
    if chosen.step is not Step.HANDED_BACK and not chosen.text:
        rows = rows.filter(closed_on=None)
    if chosen.text:
        number = number_meant(chosen.text)
        by_serial = Q(piece__serial_key__prefix=serial_key(chosen.text))
        rows = rows.filter(Q(number=number) if number else by_serial)
    return rows


def _key(text: str) -> tuple[date, int] | None:
    day, _dot, pk = text.partition(".")
    try:
        return (date.fromisoformat(day), int(pk)) if len(pk) < 19 and pk.isascii() else None
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class InStep:
    """How many orders in the house stand at a step, and how many of them are, or were ready, past their promise."""

    step: Step
    orders: int
    late: int


def counts_by_step(staff: Staff, as_of: date) -> list[InStep]:
    """Every step of an order in the house, in the order of the work. One statement, over those in the house."""
    in_time = Q(step=Step.READY.value, ready_on__isnull=False, ready_on__lte=F("promised_on"))
    late = Count("pk", filter=Q(promised_on__lt=as_of) & ~in_time)
    rows = (
        orders_visible_to(staff)
        .filter(closed_on=None)
        .order_by()
        .values_list("step")
        .annotate(orders=Count("pk"), late=late)
    )
    found = {step: (orders, behind) for step, orders, behind in rows}
    return [InStep(step, *found.get(step.value, (0, 0))) for step in Step if step is not Step.HANDED_BACK]
