"""Writing orders of parts, what came of them, and what was heard of them later."""

from collections.abc import Sequence
from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.workshop.parts.models import Part, StockMove
from service_center.workshop.parts.ordered.models import OnOrder, OrderedPart, OrderedWord, PartsDelivery, PartsOrder
from service_center.workshop.parts.ordered.queries import as_it_holds, came_of
from service_center.workshop.parts.ordered.rules import Line, NotAnOrderError, check_lines, still_to_come
from service_center.workshop.parts.rules import StockReason


class NotDeliveredError(ValueError):
    """More is taken back than came of this line; the text is how many came."""


def write_order(
    lines: Sequence[Line],
    *,
    supplier: str,
    reference: str,
    ordered_on: date,
    at: datetime,
    by: Staff,
    form_key: UUID,
) -> PartsOrder:
    """Write down what was ordered. The same form twice is one order.

    Raises NotAnOrderError; nothing is written then.
    """
    same = PartsOrder.objects.filter(form_key=form_key)
    if before := same.first():
        return before
    check_lines(lines, ordered_on)
    order = PartsOrder(form_key=form_key, supplier=supplier, reference=reference, ordered_on=ordered_on, at=at, by=by)
    try:
        _write(order, lines)
    except IntegrityError:  # the same form came at the same moment; if it was anything else there is no such row
        return same.get()
    return order


@transaction.atomic
def _write(order: PartsOrder, lines: Sequence[Line]) -> None:
    order.save(force_insert=True)
    for one in lines:
        line = OrderedPart.objects.create(
            order=order, part_id=one.part, quantity=one.quantity, expected_on=one.expected_on
        )
        _conclude(line)
    leave_trail(
        by=order.by, deed="order_parts", subject=f"parts_order:{order.number}",
        after={"parts": len(lines), "pieces": sum(one.quantity for one in lines)},
    )  # fmt: skip


@transaction.atomic
def receive(line: OrderedPart, quantity: int, *, at: datetime, by: Staff, form_key: UUID) -> PartsDelivery:
    """So many of a line came and lie on the shelf; below zero takes back what was written wrongly. Twice is once.

    More than was ordered is taken: it lies there. Raises ValueError for none, and NotDeliveredError; nothing is
    written then.
    """
    if quantity == 0:
        raise ValueError("quantity: at least one")
    locked = _locked(line)
    before = PartsDelivery.objects.filter(move__form_key=form_key).first()
    if before:
        return before
    came = came_of(locked)
    if came + quantity < 0:
        raise NotDeliveredError(str(came))
    move = StockMove.objects.create(
        form_key=form_key, part_id=locked.part_id, quantity=quantity, reason=StockReason.DELIVERED.value, at=at, by=by
    )
    delivery = PartsDelivery.objects.create(line=locked, move=move)
    _conclude(locked)
    return delivery


@transaction.atomic
def hear_of(
    line: OrderedPart, *, quantity: int, expected_on: date, why: str, at: datetime, by: Staff, form_key: UUID
) -> OrderedWord:
    """Write how many of a line come in all and when, as it is known now. What came already stays. Twice is once.

    Raises NotAnOrderError for fewer than none, or a day before it was ordered; nothing is written then.
    """
    locked = _locked(line)
    before = OrderedWord.objects.filter(form_key=form_key).first()
    if before:
        return before
    if quantity < 0:
        raise NotAnOrderError("quantity", locked.part_id)
    if expected_on < locked.order.ordered_on:
        raise NotAnOrderError("expected_on", locked.part_id)
    word = OrderedWord.objects.create(
        form_key=form_key, line=locked, quantity=quantity, expected_on=expected_on, why=why, at=at, by=by
    )
    _conclude(locked)
    return word


def _locked(line: OrderedPart) -> OrderedPart:
    """The line, its part held until the transaction ends, as every move of the shelf holds it."""
    Part.objects.select_for_update(no_key=True).get(pk=line.part_id)
    return OrderedPart.objects.select_related("order").get(pk=line.pk)


def _conclude(line: OrderedPart) -> None:
    """What is still to come of a line, from its facts. The caller holds its part."""
    quantity, expected_on = as_it_holds(line)
    left = still_to_come(quantity, came_of(line))
    if left:
        OnOrder.objects.update_or_create(
            line=line, defaults={"part_id": line.part_id, "quantity": left, "expected_on": expected_on}
        )
    else:
        OnOrder.objects.filter(line=line).delete()
