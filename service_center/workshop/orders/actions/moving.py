"""Moving an order from step to step. Every move keeps who, when and where the piece is."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book import actions as book
from service_center.book.models import Piece
from service_center.book.rules import Place
from service_center.workshop.orders.models import OrderMove, WorkOrder
from service_center.workshop.orders.queries.control import missing_of, standing_of
from service_center.workshop.orders.rules.control import Missing, only_limits
from service_center.workshop.orders.rules.steps import CannotMove, Step, check_move

# These moves belong to deeds that write more: estimates and answers, and handing back.
BY_OTHER_DEEDS = frozenset({Step.ESTIMATED, Step.AGREED, Step.DECLINED, Step.HANDED_BACK})


class NotReady(ValueError):  # noqa: N818  # a refusal, named as the workshop would say it
    """The piece may not leave yet; `missing` says what it lacks."""

    def __init__(self, missing: Sequence[Missing]) -> None:
        self.missing = list(missing)
        super().__init__(", ".join(f"{one.lack} {one.what}".strip() for one in missing))


@transaction.atomic
def move_order(
    order: WorkOrder,
    to: Step,
    *,
    at: datetime,
    on: date,
    by: Staff,
    reason: str = "",
    asks_owner: bool | None = None,
) -> WorkOrder:
    """Take an order to another step. One that stands there already is given back as it is: a second tap changes nothing.

    `received` takes the piece into the workshop's custody. `asks_owner`, with `diagnosed`: whether the owner agrees to
    an estimate first. `reason`: why it goes back, or why it is ready although readings lie outside their limits.
    Raises CannotMove or NotReady; nothing is written then.
    """
    if to in BY_OTHER_DEEDS:
        raise CannotMove(to.value)
    locked = locked_order(order)
    if locked.step == to.value:
        return locked
    check_move(standing_of(locked), to, reason=reason)
    if to is Step.READY:
        missing = missing_of(locked)
        if missing and not (only_limits(missing) and reason.strip()):
            raise NotReady(missing)
        locked.ready_on = on
    if to is Step.RECEIVED:
        _to_workshop(locked.piece, at=at, by=by, number=locked.number)
    if to is Step.DIAGNOSED:
        locked.asks_owner = asks_owner
    if to is Step.ON_THE_BENCH and locked.bench is None:
        locked.bench = by
    write_move(locked, to, at=at, by=by, reason=reason)
    return locked


def _to_workshop(piece: Piece, *, at: datetime, by: Staff, number: str) -> None:
    if piece.place != Place.WORKSHOP:
        book.move_piece(piece, to=Place.WORKSHOP, boutique=None, at=at, by=by, reason=f"received, {number}")


@transaction.atomic
def bring_to_boutique(order: WorkOrder, *, at: datetime, by: Staff) -> WorkOrder:
    """Write down that a ready piece is back at its boutique, where its owner fetches it. Twice is once.

    Raises CannotMove for an order that is not ready.
    """
    locked = locked_order(order)
    if locked.step != Step.READY:
        raise CannotMove(locked.step)
    if locked.piece.place != Place.BOUTIQUE:
        book.move_piece(
            locked.piece, to=Place.BOUTIQUE, boutique=locked.boutique, at=at, by=by, reason=f"back, {locked.number}"
        )
    return locked


@transaction.atomic
def close_order(order: WorkOrder, *, on: date, at: datetime, by: Staff, reason: str = "") -> WorkOrder:
    """End an order whose piece was just handed back; the caller has written that into the book, in this transaction.

    Raises CannotMove where the order is not ready; nothing is written then.
    """
    locked = locked_order(order)
    check_move(standing_of(locked), Step.HANDED_BACK, reason=reason)
    locked.closed_on = on
    write_move(locked, Step.HANDED_BACK, at=at, by=by, reason=reason)
    return locked


def locked_order(order: WorkOrder) -> WorkOrder:
    """The order as the database has it now, held until the transaction ends; its piece is held first."""
    Piece.objects.select_for_update(no_key=True).get(pk=order.piece_id)
    return (
        WorkOrder.objects.select_for_update(of=("self",), no_key=True)
        .select_related("piece__model__calibre", "piece__owner", "boutique")
        .get(pk=order.pk)
    )


def write_move(order: WorkOrder, to: Step, *, at: datetime, by: Staff | None, reason: str) -> None:
    """Write a move that was checked, and the order as it stands after it. The caller holds the order's row."""
    before = order.step
    OrderMove.objects.create(order=order, step=to.value, at=at, by=by, place=order.piece.place, reason=reason)
    order.step, order.step_since = to.value, at
    order.save()
    leave_trail(
        by=by,
        deed="move_order",
        subject=f"order:{order.number}",
        before={"step": before},
        after={"step": to.value, "place": order.piece.place},
        reason=reason,
    )
