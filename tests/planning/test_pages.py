"""The desk's pages of bench hours and of the levelling proposal."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.intervals.actions import bring_to
from service_center.letters.models import PlannedInvitation
from service_center.planning.actions import ask_for_picture, tick, work_out
from service_center.planning.models import AcceptedPlan, OverhaulHours, Reckoning
from service_center.planning.queries.benches import hours_by_skill
from service_center.workshop.calendars.actions import close_workshop

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches", "today")


def on_the_day() -> None:
    """The morning's round has brought the due dates to the day, and the worker has worked the weeks out."""
    bring_to(as_of=date(2026, 11, 25))
    tick(as_of=date(2026, 11, 25), now=timezone.now())


@pytest.fixture
def today() -> object:
    with time_machine.travel("2026-11-25 09:00:00+00:00", tick=False):
        yield


@pytest.fixture
def desk(signed_in: Callable[..., Client]) -> Client:
    return signed_in("desk")


def shown(desk: Client, name: str, **data: str) -> str:
    answer = desk.get(reverse(f"planning:{name}"), data)
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_proposal_shows_before_and_after_and_plans_nothing(desk: Client, sold: Sold) -> None:
    sold(120, "2020-03-04")
    on_the_day()
    page = shown(desk, "proposal", weeks="52")
    assert "In which weeks to invite 120 overhauls" in page
    assert page.count("<polyline") == 4  # two pictures for each of two skills
    assert not PlannedInvitation.objects.exists()


def test_accepting_sets_the_days_and_leaves_a_trail(desk: Client, sold: Sold) -> None:
    sold(30, "2020-03-04")
    on_the_day()
    page = shown(desk, "proposal", weeks="52")
    objective = re.search(r'name="objective" value="([^"]+)"', page)
    assert objective
    answer = desk.post(reverse("planning:accept"), {"weeks": "52", "objective": objective[1]}, follow=True)
    assert "Being worked out since" in answer.content.decode()
    assert not PlannedInvitation.objects.exists()
    work_out(now=timezone.now())
    again = desk.get(answer.redirect_chain[-1][0])
    assert "The plan is accepted: 30 days set." in again.content.decode()
    assert PlannedInvitation.objects.count() == AcceptedPlan.objects.get().pieces == 30
    assert Trail.objects.get(deed="accept_levelling").by is not None
    assert "it stays as it is" in shown(desk, "proposal", weeks="52")


def test_a_proposal_that_is_no_longer_true_is_shown_again_first(desk: Client, sold: Sold) -> None:
    sold(30, "2020-03-04")
    on_the_day()
    answer = desk.post(reverse("planning:accept"), {"weeks": "52", "objective": "7.0"}, follow=True)
    work_out(now=timezone.now())
    again = desk.get(answer.redirect_chain[-1][0])
    assert "The book has changed since you looked." in again.content.decode()
    assert not PlannedInvitation.objects.exists()
    assert Reckoning.objects.filter(sort="picture").latest("pk").begun_at == timezone.now(), "and worked out anew"


def test_weeks_that_do_not_know_of_a_closed_day_say_so(desk: Client, sold: Sold) -> None:
    sold(30, "2020-03-04")
    on_the_day()
    changed = "calendars have changed since."
    assert changed not in shown(desk, "weeks", weeks="52")
    with time_machine.travel("2026-11-25 10:00:00+00:00", tick=False):
        close_workshop(date(2026, 12, 10), date(2026, 12, 10), reason="Stocktaking", by=None)
        assert changed in shown(desk, "weeks", weeks="52")


def test_a_proposal_that_the_page_does_not_name_is_not_accepted(desk: Client) -> None:
    answer = desk.post(reverse("planning:accept"), {"weeks": "52", "objective": ""}, follow=True)
    assert "Nothing was accepted" in answer.content.decode()
    assert not Reckoning.objects.exists()


def test_before_anything_was_worked_out_the_page_says_so_and_offers_it(desk: Client) -> None:
    assert "have not been worked out yet" in shown(desk, "weeks", weeks="104")
    answer = desk.post(reverse("planning:work_out"), {"weeks": "104"}, follow=True)
    assert "Being worked out since" in answer.content.decode()
    asked = Reckoning.objects.get()
    assert desk.get(reverse("planning:progress", args=[asked.pk])).status_code == 204
    work_out(now=timezone.now())
    assert desk.get(reverse("planning:progress", args=[asked.pk])).content == b"done"
    assert "Worked out on 25 November 2026" in shown(desk, "weeks", weeks="104")


def test_the_page_shows_what_was_worked_out_and_reads_no_book(
    desk: Client, sold: Sold, django_assert_max_num_queries: Callable[..., AbstractContextManager[object]]
) -> None:
    sold(40, "2020-03-04")
    on_the_day()
    sold(300, "2020-03-04")
    for name in ("weeks", "proposal"):
        with django_assert_max_num_queries(13):  # the session's and its user's among them
            page = shown(desk, name, weeks="52")
        assert "340" not in page


def test_a_picture_that_could_not_be_worked_out_is_told_and_the_last_one_stays(
    desk: Client, sold: Sold, monkeypatch: pytest.MonkeyPatch
) -> None:
    sold(40, "2020-03-04")
    on_the_day()
    monkeypatch.setattr("service_center.planning.rules.programme.RELATIVE_GAP", -1.0)  # nothing can be proved
    ask_for_picture(as_of=date(2026, 11, 25), weeks=52, at=timezone.now(), by=None)
    work_out(now=timezone.now())
    page = shown(desk, "weeks", weeks="52")
    assert "No plan was found that could be proved" in page
    assert "<polyline" in page


def test_the_weeks_say_where_there_is_too_much(desk: Client, sold: Sold) -> None:
    sold(200, "2020-03-04")
    on_the_day()
    assert "Over in " in shown(desk, "weeks", weeks="52")
    assert "Every week keeps within its hours." in shown(desk, "weeks", weeks="52")  # of the other skill


def test_an_empty_house_says_so(desk: Client) -> None:
    on_the_day()
    assert "There is no overhaul to invite in these weeks." in shown(desk, "proposal")


def test_hours_of_an_overhaul_are_the_houses_own(desk: Client) -> None:
    typed = {"simple": "4", "automatic": "6.25", "chronograph": "9", "complicated": "18"}
    desk.post(reverse("planning:hours"), typed)
    assert hours_by_skill() == {"simple": 4.0, "automatic": 6.25, "chronograph": 9.0, "complicated": 18.0}
    assert OverhaulHours.objects.get().skill == "automatic"  # the others are as common practice has them


def test_hours_that_make_no_sense_are_kept_from_the_plan(desk: Client) -> None:
    typed = {"simple": "0", "automatic": "6.25", "chronograph": "", "complicated": "18"}
    answer = desk.post(reverse("planning:hours"), typed)
    assert answer.status_code == 422
    assert "6.25" in answer.content.decode()
    assert not OverhaulHours.objects.exists()


def test_the_counter_does_not_plan(signed_in: Callable[..., Client]) -> None:
    assert signed_in("boutique").get(reverse("planning:weeks")).status_code == 403


def test_each_bar_opens_its_week(desk: Client, sold: Sold) -> None:
    sold(40, "2020-03-04")
    on_the_day()
    page = shown(desk, "weeks", weeks="26")
    opens = reverse("planning:behind", args=["2027-W02", "automatic"])
    assert page.count(f'href="{opens}?weeks=52"') == 0
    page = shown(desk, "weeks", weeks="52")
    assert page.count(f'href="{opens}?weeks=52"') == 2  # the bar, and the row of the table
