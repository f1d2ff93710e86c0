"""The command level_invitations, to the letter of design/outside.md."""

import io
import json
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from scipy.optimize import linprog

from service_center.book.models import Piece
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.letters.actions import daily_round
from service_center.letters.models import PlannedInvitation, Reminder
from service_center.planning.models import AcceptedPlan
from tests.factories import CalibreFactory, OwnerFactory, WatchModelFactory

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches")


def run(*arguments: str) -> tuple[str, str]:
    out, err = io.StringIO(), io.StringIO()
    call_command("level_invitations", "--as-of", "2026-11-25", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def proposed(*arguments: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(run(*arguments, "--json")[0])
    return document


def monday(week: str) -> date:
    return date.fromisoformat(f"{week}-1")


def solved_outside(problem: dict[str, Any]) -> float:
    """The printed problem, as an outsider would write it down from outside.md alone: dense, all skills in one."""
    mondays = [monday(week) for week in problem["weeks"]]
    price = problem["costs"]
    columns, cost = [], []
    for number, cohort in enumerate(problem["cohorts"]):
        for week, day in enumerate(mondays):
            if monday(cohort["opens_week"]) <= day <= monday(cohort["closes_week"]):
                late = (day - monday(cohort["due_week"])).days // 7
                moved = cohort["planned_week"] is not None and monday(cohort["planned_week"]) != day
                columns.append((number, week))
                cost.append(max(-late, 0) * price["early"] + max(late, 0) * price["late"] + moved * price["moved"])
    overs = [(skill, week) for skill in problem["capacity"] for week in range(len(mondays))]
    whole = np.zeros((len(problem["cohorts"]), len(columns) + len(overs)))
    hours = np.zeros((len(overs), len(columns) + len(overs)))
    for column, (number, week) in enumerate(columns):
        cohort = problem["cohorts"][number]
        whole[number, column] = 1
        for row, (skill, later) in enumerate(overs):
            shares = problem["answers"][skill]
            if skill == cohort["skill"] and 0 <= later - week < len(shares):
                hours[row, column] = problem["hours"][skill] * shares[later - week]
    for row in range(len(overs)):
        hours[row, len(columns) + row] = -1
    room = [problem["capacity"][skill][week] - problem["committed"][skill][week] for skill, week in overs]
    pieces = [cohort["pieces"] for cohort in problem["cohorts"]]
    found = linprog(cost + [price["overload_hour"]] * len(overs), hours, room, whole, pieces, method="highs-ipm")
    assert found.status == 0
    return float(found.fun)


def test_the_printed_problem_has_the_printed_minimum(sold: Sold) -> None:
    sold(90, "2020-03-04")
    sold(30, "2020-06-10")
    sold(2, "2017-01-10")
    document = proposed("--weeks", "60")
    assert document["objective"] == pytest.approx(solved_outside(document["problem"]), rel=1e-6)


def test_the_document_has_the_fields_that_were_promised(sold: Sold) -> None:
    sold(3, "2020-03-04")
    document = proposed("--weeks", "30")
    assert set(document) == {
        "objective", "overload_hours", "peak_before", "peak_after", "weeks", "problem", "plan",
    }  # fmt: skip
    assert set(document["weeks"][0]) == {"week", "skill", "capacity_hours", "expected_hours"}
    assert set(document["plan"][0]) == {"skill", "due_week", "invite_week", "pieces"}
    problem = document["problem"]
    assert set(problem) == {"weeks", "cohorts", "hours", "answers", "capacity", "committed", "costs"}
    assert set(problem["costs"]) == {"early", "late", "overload_hour", "moved"}
    assert problem["weeks"][:2] == ["2026-W48", "2026-W49"] and len(problem["weeks"]) == 30
    assert problem["weeks"][5:7] == ["2026-W53", "2027-W01"]
    assert problem["cohorts"] == [
        {"skill": "automatic", "opens_week": "2026-W10", "due_week": "2027-W09", "closes_week": "2028-W09",
         "pieces": 3, "planned_week": None}
    ]  # fmt: skip
    assert problem["capacity"]["automatic"] == [22.0] * 30


def test_every_piece_due_is_planned_once_or_said_to_be_left_out(sold: Sold) -> None:
    sold(40, "2020-03-04")
    sold(5, "2015-03-04")
    sold(2, "2020-03-04", owner=OwnerFactory(letters=False))
    sold(1, "2020-03-04", model=WatchModelFactory(calibre=CalibreFactory(complexity="")))
    sold(1, "2020-03-04", status="stolen")
    sold(7, "2024-03-04")  # due long after the horizon
    document = proposed("--weeks", "52")
    assert sum(row["pieces"] for row in document["plan"]) == 45
    by_week = Counter[str]()
    for row in document["plan"]:
        by_week[row["due_week"]] += row["pieces"]
    assert by_week == {"2027-W09": 40, "2022-W09": 5}
    text, _ = run("--weeks", "52")
    assert "not planned: 2 overhauls, because their owners have no letters" in text
    assert "not planned: 1 overhauls, because their calibre has no complexity in the book" in text


def test_a_crowd_is_spread_until_the_benches_can_keep_up(sold: Sold) -> None:
    sold(120, "2020-03-04")
    document = proposed("--weeks", "52")
    assert document["peak_after"] < document["peak_before"]
    assert document["peak_before"] > 22
    one_piece = document["problem"]["hours"]["automatic"] * max(document["problem"]["answers"]["automatic"])
    for row in document["weeks"]:
        assert row["expected_hours"] <= row["capacity_hours"] + one_piece


def test_accepted_days_lie_in_their_weeks_and_never_before_the_overhaul_opens(sold: Sold) -> None:
    sold(25, "2020-12-03")
    sold(25, "2020-03-04")
    document = proposed("--weeks", "60", "--accept")
    planned = PlannedInvitation.objects.all()
    by_week = Counter(
        f"{day.isocalendar().year}-W{day.isocalendar().week:02d}" for day in planned.values_list("invite_on", flat=True)
    )
    in_plan = Counter[str]()
    for row in document["plan"]:
        in_plan[row["invite_week"]] += row["pieces"]
    assert by_week == in_plan
    for one in planned:
        due = DueDate.objects.get(piece=one.piece, kind="overhaul")
        assert max(date(2026, 11, 25), due.opens_on) <= one.invite_on <= due.closes_on
        assert one.starts_on == due.starts_on


def test_a_second_run_without_new_facts_changes_nothing(sold: Sold) -> None:
    sold(130, "2020-03-04")
    sold(11, "2016-03-04")
    first = proposed("--weeks", "40", "--accept")
    days = set(PlannedInvitation.objects.values_list("piece", "invite_on", "planned_at"))
    second = proposed("--weeks", "40", "--accept")
    assert second["plan"] == first["plan"]
    assert set(PlannedInvitation.objects.values_list("piece", "invite_on", "planned_at")) == days
    assert AcceptedPlan.objects.count() == 1


def test_a_proposal_that_is_not_accepted_plans_nothing(sold: Sold) -> None:
    sold(3, "2020-03-04")
    run("--weeks", "40")
    assert not PlannedInvitation.objects.exists()


def test_letters_that_went_out_are_never_planned_again(sold: Sold) -> None:
    sold(4, "2020-01-04")
    daily_round(as_of=date(2026, 11, 25), now=datetime(2026, 11, 25, 9, tzinfo=UTC))
    assert Reminder.objects.filter(kind="overhaul", step="invitation").count() == 4
    recompute([piece.pk for piece in sold(6, "2020-06-04")], as_of=date(2026, 11, 25))
    document = proposed("--weeks", "52", "--accept")
    assert sum(row["pieces"] for row in document["plan"]) == 6
    assert PlannedInvitation.objects.count() == 6
    committed = document["problem"]["committed"]["automatic"]
    shares, hours = document["problem"]["answers"]["automatic"], document["problem"]["hours"]["automatic"]
    assert committed[:3] == pytest.approx([4 * hours * share for share in shares[:3]])


def test_those_due_first_go_first(sold: Sold) -> None:
    early, late = sold(3, "2020-03-03"), sold(3, "2020-03-05")
    run("--weeks", "52", "--accept")
    day = dict(PlannedInvitation.objects.values_list("piece", "invite_on"))
    week = {piece: on - timedelta(days=on.weekday()) for piece, on in day.items()}
    assert max(week[piece.pk] for piece in early) <= min(week[piece.pk] for piece in late)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [(["--weeks", "0"], "--weeks"), (["--weeks", "many"], "--weeks"), (["--as-of", "2026-13-01"], "--as-of")],
)
def test_unusable_arguments_are_named(arguments: list[str], said: str) -> None:
    with pytest.raises(CommandError, match=said):
        run(*arguments)
