"""An order from the boutique to its owner's hands, and what stops it on the way."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction

from service_center.access.models import Staff
from service_center.book.models import Custody, HistoryEntry
from service_center.book.rules import EntryKind, Tightness
from service_center.guarantee.rules import Finding
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.measurements.actions import correct_sheet
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import readings_of
from service_center.pieces import actions as pieces
from service_center.workshop.models import OrderMove, TimeSpent, WorkOrder
from service_center.workshop.orders.actions import (
    AlreadyFinished,
    AnsweredBefore,
    NotAsked,
    NotOnTheBench,
    NotReady,
    OutOfDate,
    add_finding,
    answer_estimate,
    bring_to_boutique,
    change_kind,
    leave_out_operation,
)
from service_center.workshop.orders.queries.control import missing_of, sheet_after, unfinished_of
from service_center.workshop.orders.queries.learnt import learnt_times
from service_center.workshop.orders.queries.open_orders import open_orders
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.control import Lack
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import CannotMove, Skips
from tests.workshop.conftest import AT, DAY
from tests.workshop.hands import Hands

pytestmark = pytest.mark.django_db
Take = Callable[..., WorkOrder]
LATER = DAY + timedelta(days=6)


@pytest.fixture
def bench(taken_in: Take, watchmaker: Staff) -> Hands:
    return Hands(taken_in(), watchmaker, LATER)


def test_a_drop_off_opens_an_order_with_the_operations_that_the_house_plans(bench: Hands) -> None:
    assert bench.order.step == "logged"
    assert [one.value for one in unfinished_of(bench.order)][:3] == ["diagnosis", "uncasing", "dismantling"]


def test_a_piece_has_one_open_order(bench: Hands) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        WorkOrder.objects.create(
            number="R-999999", piece=bench.order.piece, boutique=bench.order.boutique, kind="repair", opened_on=DAY,
            opened_at=AT, step_since=AT,
        )  # fmt: skip


def test_every_move_keeps_who_when_and_where_the_piece_is(bench: Hands) -> None:
    bench.to("received")
    moves = list(OrderMove.objects.order_by("pk").values_list("step", "place", "by"))
    assert moves == [("logged", "boutique", bench.by.pk), ("received", "workshop", bench.by.pk)]
    assert Custody.objects.latest("pk").place == "workshop"


def test_a_second_tap_on_received_moves_nothing_twice(bench: Hands) -> None:
    bench.to("received", "received")
    assert OrderMove.objects.filter(step="received").count() == 1
    assert Custody.objects.filter(place="workshop").count() == 1


def test_a_move_that_skips_a_step_is_refused_and_changes_nothing(bench: Hands) -> None:
    with pytest.raises(Skips):
        bench.to("on_the_bench")
    bench.order.refresh_from_db()
    assert (bench.order.step, OrderMove.objects.count()) == ("logged", 1)


def test_an_operation_is_finished_once_with_the_minutes_it_took(bench: Hands) -> None:
    key = uuid4()
    bench.to("received", "diagnosed", "on_the_bench")
    bench.finish(Operation.UNCASING, 12, key)
    bench.finish(Operation.UNCASING, 12, key)
    assert list(TimeSpent.objects.values_list("minutes", flat=True)) == [12]
    with pytest.raises(AlreadyFinished):
        bench.finish(Operation.UNCASING, 12)


def test_nothing_is_assembled_before_the_order_is_on_the_bench(bench: Hands) -> None:
    with pytest.raises(NotOnTheBench):
        bench.finish(Operation.ASSEMBLY)


def test_minutes_that_no_day_has_are_refused(bench: Hands) -> None:
    bench.to("received", "diagnosed", "on_the_bench")
    with pytest.raises(ValueError, match="minutes"):
        bench.finish(Operation.UNCASING, 0)


def test_an_order_is_not_ready_before_operations_readings_and_tests_are_in_order(bench: Hands) -> None:
    bench.to("received", "diagnosed", "on_the_bench")
    bench.work(but=(Operation.CASING,))
    bench.to("under_control")
    with pytest.raises(NotReady) as refused:
        bench.to("ready")
    assert [one.lack for one in refused.value.missing] == [Lack.OPERATION, Lack.READINGS, Lack.TIGHTNESS]


def test_a_pass_in_air_from_before_the_case_was_opened_proves_nothing(bench: Hands) -> None:
    bench.test()
    bench.to("received", "diagnosed", "on_the_bench")
    bench.work()
    bench.order.operations.update(finished_at=datetime.now(UTC) + timedelta(days=1))  # later than the test
    assert Lack.TIGHTNESS in [one.lack for one in missing_of(bench.order)]


def _through(bench: Hands) -> None:
    bench.to("received", "diagnosed", "on_the_bench")
    bench.work()
    bench.read()
    bench.test()
    bench.to("under_control", "ready")


def test_an_overhaul_that_is_in_order_is_handed_back_and_starts_the_new_intervals(bench: Hands) -> None:
    _through(bench)
    bring_to_boutique(bench.order, at=AT + timedelta(days=15), by=bench.by)
    done = bench.back()
    piece = done.order.piece
    recompute([piece.pk], as_of=LATER)
    assert (done.order.step, done.order.closed_on) == ("handed_back", LATER)
    entry = done.entry
    assert entry is not None
    assert (entry.kind, entry.done_on, entry.case_opened, entry.tightness) == (
        "overhaul", DAY + timedelta(days=6), True, Tightness.PASSED,
    )  # fmt: skip
    piece.refresh_from_db()
    assert piece.place == "owner"
    assert DueDate.objects.get(piece=piece, kind="overhaul").starts_on == DAY + timedelta(days=6)


def test_a_piece_that_the_control_sent_back_to_the_bench_is_read_once_more(bench: Hands) -> None:
    bench.to_control()
    bench.read()
    bench.test()
    assert missing_of(bench.order) == []
    bench.on = datetime.now(UTC).date() + timedelta(days=1)  # the sheet carries the clock's own time
    bench.to("on_the_bench", "under_control", reason="The date jumps at noon.")
    assert [one.lack for one in missing_of(bench.order)] == [Lack.READINGS]


def test_a_correction_of_what_was_read_before_the_bench_is_no_reading_after_the_work(bench: Hands) -> None:
    """Common practice: the control reads anew; a slip of the pen at intake, put right meanwhile, says nothing of it."""
    bench.read()
    at_intake = TimingSheet.objects.get()
    WorkOrder.objects.filter(pk=bench.order.pk).update(sheet_before=at_intake)
    bench.order.refresh_from_db()
    bench.to_control()
    correct_sheet(at_intake, readings_of(at_intake), taken_on=at_intake.taken_on, by=bench.by)
    assert sheet_after(bench.order) is None
    bench.read()
    assert sheet_after(bench.order) is not None


def test_handing_back_twice_is_once(bench: Hands) -> None:
    _through(bench)
    first, second = bench.back(), bench.back()
    assert first.entry == second.entry
    assert HistoryEntry.objects.filter(kind="overhaul").count() == 1
    assert Custody.objects.filter(place="owner").count() == 1


def test_an_order_that_is_not_ready_is_not_handed_back_and_nothing_is_written(bench: Hands) -> None:
    bench.to("received", "diagnosed")
    with pytest.raises(CannotMove):
        bench.back()
    assert not HistoryEntry.objects.exists()


def test_a_piece_with_an_order_goes_back_by_its_order_alone(bench: Hands) -> None:
    with pytest.raises(pieces.HasOrderError):
        pieces.hand_back(
            bench.order.piece, on=DAY, at=AT, by=bench.by, kind=EntryKind.OVERHAUL, case_opened=True,
            tightness=Tightness.PASSED, note="", as_of=DAY,
        )  # fmt: skip


def test_an_owner_who_agrees_sends_the_order_on_to_the_bench(bench: Hands) -> None:
    bench.to("received", "diagnosed", asks=True)
    estimate = bench.estimate()
    answer_estimate(estimate, agreed=True, heard=Heard.PAGE, heard_by=None, on=DAY, at=AT)
    assert bench.to("on_the_bench").step == "on_the_bench"


def test_an_answer_is_given_once_and_the_same_one_twice_is_one(bench: Hands) -> None:
    bench.to("received", "diagnosed", asks=True)
    estimate = bench.estimate()
    first = answer_estimate(estimate, agreed=True, heard=Heard.PAGE, heard_by=None, on=DAY, at=AT)
    assert answer_estimate(estimate, agreed=True, heard=Heard.PAGE, heard_by=None, on=DAY, at=AT) == first
    with pytest.raises(AnsweredBefore):
        answer_estimate(estimate, agreed=False, heard=Heard.PAGE, heard_by=None, on=DAY, at=AT)


def test_a_later_estimate_replaces_the_one_before(bench: Hands) -> None:
    bench.to("received", "diagnosed", asks=True)
    first, second = bench.estimate(), bench.estimate("510.00")
    with pytest.raises(NotAsked):
        answer_estimate(first, agreed=True, heard=Heard.PAGE, heard_by=None, on=DAY, at=AT)
    assert answer_estimate(second, agreed=True, heard=Heard.PAGE, heard_by=None, on=DAY, at=AT).agreed


def test_a_yes_after_the_last_day_of_the_estimate_is_too_late_and_a_no_is_not(bench: Hands) -> None:
    bench.to("received", "diagnosed", asks=True)
    estimate = bench.estimate()
    late = estimate.valid_until + timedelta(days=1)
    with pytest.raises(OutOfDate):
        answer_estimate(estimate, agreed=True, heard=Heard.PAGE, heard_by=None, on=late, at=AT)
    assert not answer_estimate(estimate, agreed=False, heard=Heard.PAGE, heard_by=None, on=late, at=AT).agreed


def test_a_declined_piece_goes_back_undone_and_its_interval_runs_on(bench: Hands) -> None:
    bench.to("received", "diagnosed", asks=True)
    answer_estimate(bench.estimate(), agreed=False, heard=Heard.TELEPHONE, heard_by=bench.by, on=DAY, at=AT)
    bench.to("ready")
    done = bench.back()
    assert done.entry is None
    assert DueDate.objects.get(piece=done.order.piece, kind="overhaul").starts_on == date(2019, 5, 17)


def test_what_was_found_is_kept_with_whether_the_guarantee_covers_it(bench: Hands) -> None:
    bench.to("received")
    key = uuid4()
    found = [
        add_finding(
            bench.order, Finding.WEAR, what="The barrel wall is worn.", country="GB", on=DAY, at=AT, by=bench.by,
            form_key=key,
        )
        for _ in range(2)
    ]  # fmt: skip
    assert found[0] == found[1]
    assert (found[0].decision.covered, found[0].decision.order) == (False, bench.order.number)


def test_an_operation_that_is_not_needed_is_left_out_with_its_reason(bench: Hands) -> None:
    leave_out_operation(bench.order, Operation.REFINISHING, why="The owner keeps the scratches.", by=bench.by)
    assert Operation.REFINISHING not in unfinished_of(bench.order)


def test_a_check_that_turns_into_a_repair_gets_the_repairs_operations(taken_in: Take, watchmaker: Staff) -> None:
    order = change_kind(taken_in("tightness_check"), EntryKind.REPAIR, why="It leaks at the crown.", by=watchmaker)
    assert Operation.ASSEMBLY in unfinished_of(order)


def test_what_is_left_to_do_in_the_house_is_read_in_two_statements(
    bench: Hands, taken_in: Take, django_assert_num_queries: Callable[..., object]
) -> None:
    taken_in("strap")
    bench.to("received", "diagnosed", "on_the_bench")
    bench.finish(Operation.DIAGNOSIS)
    with django_assert_num_queries(2):  # type: ignore[attr-defined]
        orders = {one.kind.value: one for one in open_orders()}
    assert orders["overhaul"].minutes_left == 330 - 15
    assert orders["strap"].minutes_left == 15


def test_minutes_are_learnt_from_the_houses_own_finished_orders(taken_in: Take, watchmaker: Staff) -> None:
    for minutes in (10, 11, 12, 13, 60):
        bench = Hands(taken_in(), watchmaker, LATER)
        bench.to("received", "diagnosed", "on_the_bench")
        bench.finish(Operation.UNCASING, minutes)
    found = {key: one for key, one in learnt_times(date(2026, 4, 1)).items() if key[2] is Operation.UNCASING}
    assert [(one.minutes, one.rests_on) for one in found.values()] == [(12, 5)]


@pytest.mark.parametrize("table", ["ordermove", "timespent", "orderfinding", "orderestimate", "estimateanswer"])
def test_what_happened_to_an_order_is_never_rewritten(bench: Hands, table: str) -> None:
    bench.to("received", "diagnosed", asks=True)
    bench.finish(Operation.DIAGNOSIS)
    answer_estimate(bench.estimate(), agreed=True, heard=Heard.PAGE, heard_by=None, on=DAY, at=AT)
    add_finding(
        bench.order, Finding.WEAR, what="", country="GB", on=DAY, at=AT, by=bench.by, form_key=uuid4()
    )  # fmt: skip
    with pytest.raises(Exception, match="holds facts"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM workshop_{table}")
