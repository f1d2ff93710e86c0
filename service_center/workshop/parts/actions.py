"""Writing parts down, and moving their stock."""

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Sum

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Calibre, WatchModel
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.parts.models import Part, StockMove
from service_center.workshop.parts.rules import PartSort, StockReason


class NumberTakenError(ValueError):
    """Another part has that number."""


class OrderClosedError(ValueError):
    """The order was handed back: what it used is history."""


class NotUsedError(ValueError):
    """More is put back than the order used."""


@transaction.atomic
def keep_part(
    part: Part | None,
    *,
    number: str,
    name: str,
    sort: PartSort,
    calibre: Calibre | None,
    model: WatchModel | None,
    pack: int,
    delivery_days: int,
    in_use: bool,
    by: Staff,
) -> Part:
    """Write a part down, or anew. Raises NumberTakenError; nothing is written then."""
    others = Part.objects.filter(number=number)
    if part:
        others = others.exclude(pk=part.pk)
    if others.exists():
        raise NumberTakenError(number)
    kept = part or Part()
    kept.number, kept.name, kept.sort = number, name, sort.value
    kept.calibre, kept.model = calibre, model
    kept.pack, kept.delivery_days, kept.in_use = pack, delivery_days, in_use
    kept.save()
    leave_trail(by=by, deed="keep_part", subject=f"part:{number}", after={"name": name, "pack": pack})
    return kept


@transaction.atomic
def use_part(order: WorkOrder, part: Part, quantity: int, *, at: datetime, by: Staff, form_key: UUID) -> StockMove:
    """Take so many of a part off the shelf for an order; below zero puts them back. The same form twice is once.

    The shelf may go below nothing: the part is in the watch, whatever the last count said. Raises OrderClosedError,
    NotUsedError, and ValueError for 0.
    """
    if quantity == 0:
        raise ValueError("quantity: at least one")
    locked = WorkOrder.objects.select_for_update(no_key=True).get(pk=order.pk)
    before = StockMove.objects.filter(form_key=form_key).first()
    if before:
        return before
    if locked.step == Step.HANDED_BACK:
        raise OrderClosedError(locked.number)
    used = -(StockMove.objects.filter(order=locked, part=part).aggregate(n=Sum("quantity"))["n"] or 0)
    if used + quantity < 0:
        raise NotUsedError(str(used))
    return StockMove.objects.create(
        form_key=form_key,
        part=part,
        quantity=-quantity,
        reason=StockReason.USED.value,
        order=locked,
        at=at,
        by=by,
    )


@transaction.atomic
def move_stock(
    part: Part, quantity: int, reason: StockReason, *, at: datetime, by: Staff, form_key: UUID
) -> StockMove | None:
    """Write a delivery, what spoilt, or what a count found (`quantity` is then what lies there). Twice is once.

    None where a count found what was expected. Raises ValueError for a delivery or a loss of nothing.
    """
    locked = Part.objects.select_for_update(no_key=True).get(pk=part.pk)
    before = StockMove.objects.filter(form_key=form_key).first()
    if before:
        return before
    if reason is StockReason.COUNTED:
        change = quantity - (StockMove.objects.filter(part=locked).aggregate(n=Sum("quantity"))["n"] or 0)
        if change == 0:
            return None
    else:
        if quantity <= 0:
            raise ValueError("quantity: at least one")
        change = quantity if reason is StockReason.DELIVERED else -quantity
    return StockMove.objects.create(form_key=form_key, part=locked, quantity=change, reason=reason.value, at=at, by=by)
