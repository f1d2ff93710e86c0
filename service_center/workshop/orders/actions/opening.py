"""Opening an order: a drop-off asks for it, in its own transaction."""

from collections.abc import Collection
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from service_center.access.models import Staff
from service_center.book.models import Boutique, Piece
from service_center.book.rules import Complexity, EntryKind
from service_center.measurements.models import TimingSheet
from service_center.workshop.orders.models import OrderMove, OrderOperation, WorkOrder
from service_center.workshop.orders.queries.open_orders import planned_times
from service_center.workshop.orders.rules.kinds import kind_of
from service_center.workshop.orders.rules.steps import Step


@transaction.atomic
def open_order(
    piece: Piece,
    *,
    number: str,
    boutique: Boutique,
    asked: Collection[EntryKind],
    opened_on: date,
    at: datetime,
    by: Staff | None,
    promised_on: date | None = None,
    quoted_on: date | None = None,
    agreed_total: Decimal | None = None,
    agreed_currency: str = "",
    sheet_before: TimingSheet | None = None,
) -> WorkOrder:
    """Open the order of a piece that was just taken in, with its operations as the house plans them today.

    The caller holds the piece's row and has moved it. `agreed_total`: what the owner signed for, where the estimate at
    the counter had an amount in every line. Raises IntegrityError where the piece has an open order.
    """
    calibre = piece.model.calibre if piece.model else None
    kind = kind_of(asked)
    order = WorkOrder.objects.create(
        number=number,
        piece=piece,
        owner=piece.owner,
        boutique=boutique,
        kind=kind.value,
        complexity=calibre.complexity if calibre else "",
        opened_on=opened_on,
        opened_at=at,
        opened_by=by,
        promised_on=promised_on,
        quoted_on=quoted_on,
        step=Step.LOGGED.value,
        step_since=at,
        agreed_total=agreed_total,
        agreed_currency=agreed_currency,
        sheet_before=sheet_before,
    )
    OrderMove.objects.create(order=order, step=Step.LOGGED.value, at=at, by=by, place=piece.place)
    complexity = Complexity(order.complexity) if order.complexity else None
    times = planned_times(kind, complexity, rated=bool(piece.model and piece.model.rated_bar))
    OrderOperation.objects.bulk_create(
        OrderOperation(
            order=order, operation=operation.value, position=position, minutes=time.minutes, wait_hours=time.wait_hours
        )
        for position, (operation, time) in enumerate(times.items())
    )
    return order
