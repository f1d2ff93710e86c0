"""A watchmaker's hands on one order, for tests that need a piece brought through the workshop."""

from collections.abc import Collection
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from uuid import UUID, uuid4

from service_center.access.models import Staff
from service_center.bench.orders.actions import HandedBack, hand_back_order
from service_center.book.models import Piece
from service_center.measurements.actions import begin_run, record_sheet
from service_center.measurements.queries import plan_of_run
from service_center.measurements.rules import Reading, Wind
from service_center.pieces import tested
from service_center.workshop.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.actions import EstimateLine, finish_operation, move_order, write_estimate
from service_center.workshop.orders.queries.control import measured_of, unfinished_of
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import Standing, Step, next_step
from tests.factories import StaffFactory


def at(on: date, hour: int = 10) -> datetime:
    return datetime(on.year, on.month, on.day, hour, tzinfo=UTC)


class Hands:
    """Each deed on the day `on`; what was measured is recorded at the clock's own time."""

    def __init__(self, order: WorkOrder, by: Staff, on: date) -> None:
        self.order, self.by, self.on = order, by, on

    def to(self, *steps: str, reason: str = "", asks: bool | None = None) -> WorkOrder:
        for step in steps:
            self.order = move_order(
                self.order,
                Step(step),
                at=at(self.on),
                on=self.on,
                by=self.by,
                reason=reason,
                asks_owner=asks if step == "diagnosed" else None,
            )
        return self.order

    def finish(self, operation: Operation, minutes: int = 20, key: UUID | None = None) -> None:
        finish_operation(
            self.order, operation, minutes=minutes, at=at(self.on), by=self.by, form_key=key or uuid4()
        )  # fmt: skip

    def work(self, *, but: Collection[Operation] = ()) -> None:
        for operation in unfinished_of(self.order):
            if operation not in but:
                self.finish(operation)

    def read(self) -> None:
        readings = [Reading(position, Wind.FULL, Decimal(3), Decimal(290), Decimal("0.2")) for position in FOUR]
        record_sheet(self.order.piece, readings, taken_on=self.on, by=self.by)

    def test(self, *, passes: bool = True) -> None:
        self.order = WorkOrder.objects.get(pk=self.order.pk)
        run = begin_run(self.order.piece, form_key=uuid4(), on=self.on, by=self.by)
        for planned in plan_of_run(run):
            shown = tested.Tested(passes, planned.bar, planned.minutes, None, "")
            tested.add_result(run, planned.test, shown, by=self.by, as_of=self.on)
            if not passes:
                return

    def estimate(self, price: str = "480.00") -> OrderEstimate:
        return write_estimate(
            self.order,
            [EstimateLine("Overhaul", Decimal(price))],
            currency="GBP",
            valid_until=self.on + timedelta(days=30),
            note="",
            on=self.on,
            at=at(self.on),
            by=self.by,
            form_key=uuid4(),
        )

    def to_control(self) -> None:
        """Every step up to the control, with every operation done."""
        while self.order.step != Step.UNDER_CONTROL:
            step = next_step(Standing(self.order.kind, Step(self.order.step), asks_owner=False))  # type: ignore[arg-type]
            assert step is not None
            if step is Step.READY:  # a strap has no control
                break
            self.to(step.value)
            if step is Step.ON_THE_BENCH:
                self.work()
        self.work()

    def back(self, *, note: str = "", hour: int = 15) -> HandedBack:
        return hand_back_order(self.order, on=self.on, at=at(self.on, hour), by=self.by, as_of=self.on, note=note)


FOUR = ("CH", "CB", "6H", "9H")


def bring_through(piece: Piece, on: date, *, by: Staff | None = None, note: str = "", hour: int = 15) -> HandedBack:
    """Work, measure what is not measured yet, and hand back on a day; the piece is at its boutique with its order."""
    order = WorkOrder.objects.get(piece=piece, closed_on=None)
    hands = Hands(order, by or StaffFactory(role="watchmaker"), on)
    hands.to_control()
    measured = measured_of(hands.order)
    if order.kind in ("overhaul", "repair") and not measured.read_after:
        hands.read()
    if measured.tight is None and hands.order.piece.model and hands.order.piece.model.rated_bar:
        hands.test()
    hands.to("ready")
    return hands.back(note=note, hour=hour)
