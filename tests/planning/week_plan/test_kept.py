"""A week's plan as it is kept: worked out, decided line by line, planned again, printed."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from io import BytesIO, StringIO
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from service_center.access.models import Staff, Trail
from service_center.planning import tasks
from service_center.planning.week_plan import actions
from service_center.planning.week_plan.models import PlanLine, WeekPlan
from service_center.planning.week_plan.queries import monday_at_hand, queue_of, week_to_plan
from service_center.planning.week_plan.solving import plan_one, plan_waiting
from service_center.planning.week_plan.words import gap_in_words
from service_center.workshop.calendars.actions import add_absence, add_watchmaker
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.calendars.rules import AbsenceKind
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.rules.operations import Operation
from tests.factories import StaffFactory
from tests.workshop.conftest import taken_in, watchmaker
from tests.workshop.hands import Hands

__all__ = ["taken_in", "watchmaker"]  # fixtures of the workshop's tests: an order as a drop-off opens it
pytestmark = pytest.mark.django_db

MONDAY = date(2026, 3, 9)
TUESDAY, WEDNESDAY, FRIDAY = (MONDAY + timedelta(days=n) for n in (1, 2, 4))
NOW = datetime(2026, 3, 9, 8, tzinfo=UTC)
SEVEN_HOURS = [420] * 5 + [0, 0]
TakenIn = Callable[..., WorkOrder]


def a_bench(name: str, account: Staff | None = None, minutes: list[int] = SEVEN_HOURS, **skills: None) -> Watchmaker:
    return add_watchmaker(
        name=name, first_day=date(2026, 1, 5), last_day=None, account=account, minutes=minutes,
        skills=skills or {"automatic": None}, by=None,
    )  # fmt: skip


@pytest.fixture
def anna(watchmaker: Staff) -> Watchmaker:
    return a_bench("Anna Tarn", watchmaker)


@pytest.fixture
def ready_for_bench(taken_in: TakenIn, watchmaker: Staff) -> TakenIn:
    """An order that was diagnosed before the week, and that nobody has to be asked about."""

    def make(**more: Any) -> WorkOrder:
        hands = Hands(taken_in(**more), watchmaker, date(2026, 3, 4))
        hands.to("received", "diagnosed", asks=False)
        hands.finish(Operation.DIAGNOSIS)
        return hands.order

    return make


@pytest.fixture
def desk() -> Staff:
    return StaffFactory()


def planned(day: date = MONDAY, as_of: date = MONDAY) -> WeekPlan:
    plan = actions.want_plan(day, as_of=as_of, at=NOW, by=None)
    return plan_one(plan, at=NOW)


def days_of(plan: WeekPlan, order: WorkOrder) -> dict[str, date]:
    lines = PlanLine.objects.filter(plan=plan, operation__order=order, against="").order_by("operation__position")
    return {line.operation.operation: line.day for line in lines.select_related("operation")}


def line(plan: WeekPlan, order: WorkOrder, operation: str) -> PlanLine:
    return PlanLine.objects.get(plan=plan, operation__order=order, operation__operation=operation, against="")


def test_an_order_is_planned_in_its_sequence_with_its_waits(anna: Watchmaker, ready_for_bench: TakenIn) -> None:
    order = ready_for_bench()
    days = days_of(planned(), order)
    assert days["dismantling"] == days["assembly"]
    assert days["regulation"] >= days["assembly"] + timedelta(days=1)
    assert days["final_control"] >= days["tightness_tests"] + timedelta(days=1)


def test_an_order_at_the_boutique_or_at_its_owners_is_not_planned(
    anna: Watchmaker, taken_in: TakenIn, watchmaker: Staff
) -> None:
    logged, asked = taken_in(), taken_in()
    hands = Hands(asked, watchmaker, date(2026, 3, 4))
    hands.to("received", "diagnosed", asks=True)
    hands.estimate()
    plan = planned()
    assert week_to_plan(plan, MONDAY).not_yet == 2
    assert not plan.lines.exists()
    assert logged.step == "logged"


def test_a_piece_whose_owner_will_be_asked_is_only_looked_at(
    anna: Watchmaker, taken_in: TakenIn, watchmaker: Staff
) -> None:
    hands = Hands(taken_in(), watchmaker, date(2026, 3, 4))
    hands.to("received")
    WorkOrder.objects.filter(pk=hands.order.pk).update(asks_owner=True)
    assert list(days_of(planned(), hands.order)) == ["diagnosis"]


def test_nobody_works_while_away_and_a_week_without_anybody_says_so(anna: Watchmaker, ready_for_bench: TakenIn) -> None:
    ready_for_bench()
    add_absence(anna, MONDAY, TUESDAY, AbsenceKind.LEAVE, by=None)
    assert min(planned().lines.values_list("day", flat=True)) == WEDNESDAY
    add_absence(anna, WEDNESDAY, FRIDAY, AbsenceKind.LEAVE, by=None)
    assert planned().fault == "nobody"


def test_a_fixed_line_stays_when_the_week_is_planned_again(
    anna: Watchmaker, ready_for_bench: TakenIn, desk: Staff
) -> None:
    order = ready_for_bench()
    plan = planned()
    lines = [line(plan, order, name).pk for name in ("uncasing", "dismantling", "cleaning", "assembly")]
    plan = actions.fix_lines(lines, watchmaker=anna, day=WEDNESDAY, as_of=MONDAY, at=NOW, by=desk)
    assert plan.wanted
    plan = plan_one(plan, at=NOW)
    assert not plan.wanted
    days = days_of(plan, order)
    assert days["assembly"] == WEDNESDAY
    assert days["regulation"] > WEDNESDAY
    assert line(plan, order, "assembly").fixed_by == desk
    assert Trail.objects.filter(deed="fix_plan_line", by=desk).exists()
    assert plan_one(actions.want_plan(MONDAY, as_of=MONDAY, at=NOW, by=desk), at=NOW).lines.count() == len(days)


def test_left_to_the_plan_it_goes_where_it_is_best(anna: Watchmaker, ready_for_bench: TakenIn, desk: Staff) -> None:
    order = ready_for_bench()
    plan = planned()
    lines = [line(plan, order, "assembly").pk]
    plan_one(actions.fix_lines(lines, watchmaker=anna, day=FRIDAY, as_of=MONDAY, at=NOW, by=desk), at=NOW)
    actions.leave_to_plan(lines, as_of=MONDAY, at=NOW, by=desk)
    plan = planned()
    assert days_of(plan, order)["final_control"] <= FRIDAY
    assert not plan.lines.filter(fixed=True).exists()


def test_a_line_that_cannot_be_kept_is_named_and_its_work_planned_elsewhere(
    anna: Watchmaker, ready_for_bench: TakenIn, desk: Staff
) -> None:
    order, other = ready_for_bench(), a_bench("Bruno Fell", chronograph=None)
    plan = planned()
    pk = line(plan, order, "assembly").pk
    plan = plan_one(actions.fix_lines([pk], watchmaker=other, day=TUESDAY, as_of=MONDAY, at=NOW, by=desk), at=NOW)
    assert PlanLine.objects.get(pk=pk).against == "skill"
    assert line(plan, order, "assembly").watchmaker == anna
    plan = plan_one(actions.fix_lines([pk], watchmaker=anna, day=TUESDAY, as_of=MONDAY, at=NOW, by=desk), at=NOW)
    assert plan.lines.filter(operation__operation="assembly").count() == 1
    assert line(plan, order, "assembly").fixed


def test_what_is_done_stays_where_it_was_done(anna: Watchmaker, ready_for_bench: TakenIn, watchmaker: Staff) -> None:
    order = ready_for_bench()
    plan = planned()
    assert days_of(plan, order)["uncasing"] == MONDAY
    hands = Hands(order, watchmaker, MONDAY)
    hands.to("on_the_bench")
    for operation in (Operation.UNCASING, Operation.DISMANTLING):
        hands.finish(operation)
    days = days_of(planned(as_of=TUESDAY), order)
    assert days["uncasing"] == MONDAY
    assert days["cleaning"] >= TUESDAY


def test_next_week_begins_where_this_weeks_plan_ends(anna: Watchmaker, ready_for_bench: TakenIn) -> None:
    orders = [ready_for_bench() for _ in range(9)]
    this = planned()
    after = planned(MONDAY + timedelta(days=7))
    for order in orders:
        assert not set(days_of(this, order)) & set(days_of(after, order))


def test_an_operation_longer_than_a_day_goes_over_two(ready_for_bench: TakenIn, desk: Staff) -> None:
    a_bench("Anna Tarn", complicated=None)
    order = ready_for_bench()
    WorkOrder.objects.filter(pk=order.pk).update(complexity="complicated")
    order.operations.filter(operation="assembly").update(minutes=560)
    plan = planned()
    parts = list(
        plan.lines.filter(operation__operation="assembly").order_by("part").values_list("part", "parts", "minutes")
    )
    assert parts == [(1, 2, 280), (2, 2, 280)]
    second = planned(as_of=WEDNESDAY)
    assert [one.part for one in second.lines.filter(operation__operation="assembly").order_by("part")] == [1, 2]


def test_a_plan_that_is_older_than_the_desks_last_word_is_not_kept(anna: Watchmaker, ready_for_bench: TakenIn) -> None:
    ready_for_bench()
    seen = actions.want_plan(MONDAY, as_of=MONDAY, at=NOW, by=None)
    actions.want_plan(MONDAY, as_of=MONDAY, at=NOW, by=None)
    plan_one(seen, at=NOW)
    assert not PlanLine.objects.exists()
    assert [one.wanted for one in plan_waiting(now=NOW)] == [False]
    assert list(plan_waiting(now=NOW)) == []


def test_a_watchmaker_has_their_own_days_in_their_own_order(
    anna: Watchmaker, watchmaker: Staff, ready_for_bench: TakenIn
) -> None:
    a_bench("Bruno Fell")
    for _ in range(4):
        ready_for_bench()
    plan = planned()
    queue = queue_of(watchmaker.pk, MONDAY)
    assert [(row.day, row.turn) for row in queue] == sorted((row.day, row.turn) for row in queue)
    assert sum(len(row.lines) for row in queue) == plan.lines.filter(watchmaker=anna).count()
    assert 0 < len(queue) < plan.lines.count()


def test_the_command_plans_a_week_and_prints_it(anna: Watchmaker, ready_for_bench: TakenIn) -> None:
    ready_for_bench()
    said = StringIO()
    call_command("plan_week", "--as-of", "2026-03-09", "--week", "2026-W11", stdout=said)
    assert "2026-W11: 10 lines" in said.getvalue()
    call_command("plan_week", "--waiting", "--json", stdout=(empty := StringIO()))
    assert empty.getvalue().strip() == "[]"


def test_no_process_is_started_while_no_week_waits(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.executable", "/nowhere")
    tasks.plan_weeks()


@pytest.fixture
def on_monday() -> Any:
    with time_machine.travel("2026-03-09 08:00:00+00:00", tick=False):
        yield


@pytest.mark.parametrize(
    ("day", "monday"),
    [(FRIDAY, MONDAY), (FRIDAY + timedelta(days=1), MONDAY + timedelta(days=7)), (MONDAY, MONDAY)],
    ids=["Friday", "Saturday", "Monday"],
)
def test_on_a_free_saturday_the_week_at_hand_is_the_one_to_come(day: date, monday: date) -> None:
    a_bench("Anna Tarn")
    assert monday_at_hand(day) == monday


def test_where_somebody_works_on_saturdays_that_day_is_still_at_hand() -> None:
    a_bench("Anna Tarn", minutes=[420] * 5 + [240, 0])
    assert monday_at_hand(FRIDAY + timedelta(days=1)) == MONDAY
    assert monday_at_hand(FRIDAY + timedelta(days=2)) == MONDAY + timedelta(days=7)


def test_a_house_without_benches_looks_at_the_week_that_it_is() -> None:
    assert monday_at_hand(FRIDAY + timedelta(days=2)) == MONDAY


@pytest.mark.usefixtures("on_monday")
def test_the_desk_reads_fixes_and_prints_a_week(
    anna: Watchmaker, ready_for_bench: TakenIn, signed_in: Callable[..., Client]
) -> None:
    client, order = signed_in("desk"), ready_for_bench()
    week = reverse("planning:week_plan", args=[MONDAY])
    assert client.get(reverse("planning:this_week")).headers["Location"] == week
    assert "not planned yet" in client.get(week).content.decode()
    client.post(reverse("planning:plan_again", args=[MONDAY]))
    waiting = client.get(week)
    assert "Being planned" in waiting.content.decode()
    assert waiting.headers["Refresh"] == "5"
    list(plan_waiting(now=NOW))
    page = client.get(week).content.decode()
    assert "It is proven that no plan of this week is better." in page
    assert "Uncasing to assembly" in page
    plan = WeekPlan.objects.get()
    first = line(plan, order, "uncasing")
    where = reverse("planning:plan_line", args=[first.pk])
    wrong = client.post(where, {"deed": "fix", "watchmaker": "99999", "day": FRIDAY.isoformat()})
    assert wrong.status_code == 422
    add_absence(anna, FRIDAY, FRIDAY, AbsenceKind.TRAINING, by=None)
    away = client.post(where, {"deed": "fix", "watchmaker": str(anna.pk), "day": FRIDAY.isoformat()})
    assert away.status_code == 422
    assert "not at the bench on that day" in away.content.decode()
    client.post(where, {"deed": "fix", "watchmaker": str(anna.pk), "day": WEDNESDAY.isoformat()})
    list(plan_waiting(now=NOW))
    assert days_of(plan, order)["assembly"] == WEDNESDAY
    for size, width in (("a4", 595), ("letter", 612)):
        paper = client.get(reverse("planning:week_paper", args=[MONDAY]), {"size": size})
        read = PdfReader(BytesIO(paper.content))
        assert round(float(read.pages[0].mediabox.width)) == width
        text = read.pages[0].extract_text()
        assert "Anna Tarn" in text
        assert order.number in text


@pytest.mark.usefixtures("on_monday")
def test_a_watchmaker_reads_the_week_and_decides_nothing(
    anna: Watchmaker, ready_for_bench: TakenIn, signed_in: Callable[..., Client]
) -> None:
    ready_for_bench()
    plan = planned()
    client = signed_in("watchmaker")
    page = client.get(reverse("planning:week_plan", args=[MONDAY])).content.decode()
    assert "Plan again" not in page
    assert client.post(reverse("planning:plan_line", args=[plan.lines.first().pk])).status_code == 403
    assert client.get(reverse("planning:week_plan", args=[MONDAY]).replace("W11", "W54")).status_code == 404


SAID = [
    (2, 1, 8_580_100, 7_251_113, "no plan saves more than 1 of these days"),
    (0, 0, 6_236_100, 5_952_650, "no plan has fewer days late"),
    (0, 0, 6_236_100, 5_952_650, "at most as much as 4.8 hours"),
    (2, 1, 2_000_000, 2_000_000, "no plan of this week is better"),
]


@pytest.mark.parametrize(("late", "least", "cost", "bound", "said"), SAID)
def test_what_is_proven_is_said_in_days_and_hours(late: int, least: int, cost: int, bound: int, said: str) -> None:
    assert said in gap_in_words(WeekPlan(days_late=late, days_bound=least, cost=cost, bound=bound))
