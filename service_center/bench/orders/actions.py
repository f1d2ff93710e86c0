"""Handing an ordered piece back: custody, history, intervals and letters follow from the order, in one transaction."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid5

from django.db import transaction

from service_center.access.models import Staff
from service_center.book.models import HistoryEntry
from service_center.book.rules import EntryKind, Tightness
from service_center.pieces import actions as pieces
from service_center.workshop.orders.actions import NotReady, close_order, locked_order
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.queries.control import case_opened, measured_of, missing_of, was_declined
from service_center.workshop.orders.rules.control import only_limits
from service_center.workshop.orders.rules.steps import Standing, Step, check_move

# The code of an entry that an order writes is derived from the order, so that no retry writes a second one.
ENTRIES_OF_ORDERS = UUID("5e0e8a57-0f0e-4c5e-9f0b-6a2f4b8f3a11")


@dataclass(frozen=True, slots=True)
class HandedBack:
    """What became of it. `entry` None: nothing was done that the history does not have."""

    order: WorkOrder
    entry: HistoryEntry | None


@transaction.atomic
def hand_back_order(order: WorkOrder, *, on: date, at: datetime, by: Staff, as_of: date, note: str = "") -> HandedBack:
    """Close an order, give its piece to the owner, and start the new intervals. Twice is once.

    The history has the work as done on the day the piece was ready. A tightness check has its entry from its tests; a
    declined order leaves one only where the case was opened. Raises CannotMove where the order is not ready, and
    NotReady where a control was struck out since; nothing is written then.
    """
    locked = locked_order(order)
    if locked.step == Step.HANDED_BACK:
        return HandedBack(locked, HistoryEntry.objects.filter(code=pieces.code_of(_key(locked))).first())
    opened = case_opened(locked)
    check_move(Standing(EntryKind(locked.kind), Step(locked.step), locked.asks_owner, opened), Step.HANDED_BACK)
    missing = missing_of(locked)
    if missing and not only_limits(missing):
        raise NotReady(missing)
    work = _work(locked, opened=opened)
    entry = pieces.give_back(
        locked.piece,
        work=work,
        done_on=locked.ready_on or on,
        at=at,
        by=by,
        note=note,
        as_of=as_of,
        form_key=_key(locked),
        order=locked.number,
    )
    return HandedBack(close_order(locked, on=on, at=at, by=by), entry)


def _work(order: WorkOrder, *, opened: bool) -> pieces.Work | None:
    """What the history gets to know of the order."""
    kind = EntryKind(order.kind)
    tight = Tightness.PASSED if measured_of(order).tight else Tightness.NOT_TESTED
    if was_declined(order):
        return pieces.Work(EntryKind.TIGHTNESS_CHECK, case_opened=True, tightness=tight) if opened else None
    if kind is EntryKind.TIGHTNESS_CHECK:
        return None
    return pieces.Work(kind, case_opened=opened, tightness=tight)


def _key(order: WorkOrder) -> UUID:
    return uuid5(ENTRIES_OF_ORDERS, order.number)
