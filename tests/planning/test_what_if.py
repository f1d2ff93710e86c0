"""What if: the same levelling under other hours and answers, beside the plan as it is."""

from collections.abc import Callable
from datetime import date

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.book.models import Piece
from service_center.intervals.actions import bring_to
from service_center.letters.models import PlannedInvitation
from service_center.planning.actions import tick, work_out
from service_center.planning.models import AcceptedPlan, Reckoning, SkillHours
from service_center.planning.queries.what_if import what_if_of
from service_center.planning.rules.kept_problem import keep, take_up
from service_center.planning.rules.levelling import Cohort, Problem
from service_center.planning.rules.picture import Out, Picture
from service_center.planning.rules.proposing import propose
from service_center.planning.rules.what_if import WhatIf, with_changes
from service_center.workshop.models import WorkshopClosure

Sold = Callable[..., list[Piece]]
PROBLEM = Problem(
    weeks=4,
    cohorts=[Cohort("simple", 0, 1, 3, 20)],
    hours={"simple": 1.0},
    answers={"simple": [0.5]},
    capacity={"simple": [4.0] * 4},
    committed={"simple": [4.0, 2.0, 1.0, 0.0]},
)
OUT = Out({"simple": [3.0, 1.0, 0.0, 0.0]}, {"simple": [1.0, 1.0, 1.0, 0.0]}, {"simple": [1.0, 1.0, 1.0, 0.0]})


def test_another_watchmaker_adds_hours_and_takes_overload_away() -> None:
    before = propose(PROBLEM, None).after.overload_hours
    more, _out = with_changes(PROBLEM, OUT, WhatIf({"simple": [0.0, 3.0, 3.0, 3.0]}))
    assert more.capacity["simple"] == [4.0, 7.0, 7.0, 7.0]
    assert before > 0
    assert propose(more, None).after.overload_hours == pytest.approx(0)


def test_in_a_closed_week_nothing_is_worked_and_orders_move_behind_it() -> None:
    closed, out = with_changes(PROBLEM, OUT, WhatIf({}, closed=0))
    assert closed.capacity["simple"] == [0.0, 4.0, 4.0, 4.0]
    assert out.promised["simple"] == [0.0, 3.0, 1.0, 0.0]
    assert sum(out.promised["simple"]) == sum(OUT.promised["simple"])
    assert closed.committed["simple"] == [1.0, 4.0, 2.0, 0.0]


def test_more_answers_bring_more_of_letters_out_and_to_come_but_never_more_than_all_owners() -> None:
    more, out = with_changes(PROBLEM, OUT, WhatIf({}, answers=1.2))
    assert more.answers["simple"] == pytest.approx([0.6])
    assert out.hours["simple"] == pytest.approx([1.2, 1.2, 1.2, 0.0])
    assert with_changes(PROBLEM, OUT, WhatIf({}, answers=3.0))[0].answers["simple"] == pytest.approx([1.0])


def test_without_a_change_the_problem_is_the_same() -> None:
    same, out = with_changes(PROBLEM, OUT, WhatIf({}))
    assert (same.capacity, same.answers, out.hours) == (dict(PROBLEM.capacity), {"simple": [0.5]}, dict(OUT.hours))
    assert propose(same, None).objective == propose(PROBLEM, None).objective


def test_a_kept_problem_is_the_problem() -> None:
    assert take_up(keep(PROBLEM, OUT, 1.5)) == (PROBLEM, OUT, 1.5)


def test_a_new_watchmaker_shares_the_week_between_skills_and_keeps_closures(db: None) -> None:
    WorkshopClosure.objects.create(first_day=date(2027, 3, 8), last_day=date(2027, 3, 12), reason="Stocktaking")
    about = {"skills": ["simple", "automatic"], "hours_a_week": 30, "from": "2027-03-03"}
    hours = what_if_of(about, date(2027, 2, 22), 4).more_hours
    assert hours == {"simple": pytest.approx([0, 9, 0, 15]), "automatic": pytest.approx([0, 9, 0, 15])}


@pytest.fixture
def crowded(sold: Sold, benches: None) -> object:
    with time_machine.travel("2026-11-25 09:00:00+00:00", tick=False):
        SkillHours.objects.update(hours_a_week=6)
        sold(200, "2020-03-04")
        bring_to(as_of=date(2026, 11, 25))
        tick(as_of=date(2026, 11, 25), now=timezone.now())
        yield


@pytest.mark.usefixtures("crowded")
def test_the_desk_sees_both_plans_and_nothing_but_the_question_is_written(signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    typed = {"weeks": "52", "skills": "automatic", "hours_a_week": "30", "since": "2027-01-04", "answers_percent": ""}
    answer = desk.post(reverse("planning:what_if"), typed, follow=True)
    work_out(now=timezone.now())
    page = desk.get(answer.redirect_chain[-1][0]).content.decode()
    assert "Another watchmaker (automatic; 30 hours a week) from 4 January 2027." in page
    asked = Reckoning.objects.get(sort="what_if")
    assert (
        Picture.from_json(asked.picture or {}).after.overload_hours < asked.about["beside"]["after"]["overload_hours"]
    )
    assert not PlannedInvitation.objects.exists()
    assert not AcceptedPlan.objects.exists()


@pytest.mark.usefixtures("crowded")
@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "Say what would be different"),
        ({"skills": "automatic", "hours_a_week": "30"}, "needs skills, hours and a first day"),
        ({"closed": "2031-01-01"}, "That is not one of these weeks."),
        ({"skills": "automatic", "hours_a_week": "30", "since": "2031-01-01"}, "after the last of these weeks"),
        ({"answers_percent": "5"}, "10"),
    ],
)
def test_a_what_if_without_sense_is_refused_and_stays_as_typed(
    signed_in: Callable[..., Client], typed: dict[str, str], said: str
) -> None:
    answer = signed_in("desk").post(reverse("planning:what_if"), {"weeks": "52", **typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert all(f'value="{value}"' in page for value in typed.values())
    assert not Reckoning.objects.filter(sort="what_if").exists()
