"""From a bar to what stands behind it."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.book.models import Piece
from service_center.intervals.actions import bring_to, recompute
from service_center.letters.actions import daily_round
from service_center.letters.models import Letter
from service_center.letters.rules.unusual import Asked
from service_center.planning.actions import tick
from service_center.planning.queries.behind import PAGE, Cursor, letters_out_page

Sold = Callable[..., list[Piece]]
AT_MOST = Callable[..., AbstractContextManager[object]]
DAY = date(2026, 11, 25)
pytestmark = pytest.mark.usefixtures("benches")


@pytest.fixture(autouse=True)
def today(benches: None) -> object:
    with time_machine.travel("2026-11-25 09:00:00+00:00", tick=False):
        yield


def worked_out() -> None:
    bring_to(as_of=DAY)
    tick(as_of=DAY, now=timezone.now())


def page_of(desk: Client, name: str, week: str, **data: str) -> str:
    answer = desk.get(reverse(f"planning:{name}", args=[week, "automatic"]), data)
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_bar_opens_its_letters_and_their_pieces(signed_in: Callable[..., Client], sold: Sold) -> None:
    pieces = sold(3, "2020-01-04")
    daily_round(as_of=DAY, now=datetime(2026, 11, 25, tzinfo=UTC), asked=Asked.CONFIRMED)
    Letter.objects.update(state="sent", sent_at=datetime(2026, 11, 25, tzinfo=UTC))
    worked_out()
    desk = signed_in("desk")
    page = page_of(desk, "behind", "2026-W50")
    assert "Overhaul, invitation" in page
    assert "No order" in page
    listed = page_of(desk, "letters_out", "2026-W50")
    assert all(piece.serial in listed for piece in pieces)
    assert "No piece is awaited." in page_of(desk, "letters_out", "2027-W40")


def test_letters_out_come_in_pages_that_together_name_each_piece_once(
    signed_in: Callable[..., Client], sold: Sold, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service_center.planning.queries.behind.LETTERS_A_LOOK", 7)
    pieces = sold(PAGE + 8, "2020-01-04")
    daily_round(as_of=DAY, now=datetime(2026, 11, 25, tzinfo=UTC), asked=Asked.CONFIRMED)
    Letter.objects.update(state="sent", sent_at=datetime(2026, 11, 25, tzinfo=UTC))
    monday, after, found = date(2026, 12, 7), None, []
    for _page in range(4):
        page = letters_out_page("automatic", monday, DAY, after)
        found.append([row.piece_id for row in page.rows])
        if (after := page.next) is None:
            break
    assert [len(one) for one in found] == [PAGE, 8]
    assert sorted(pk for one in found for pk in one) == sorted(piece.pk for piece in pieces)


def test_a_bar_opens_the_invitations_that_bring_it_and_their_pieces_in_pages(
    signed_in: Callable[..., Client], sold: Sold, django_assert_max_num_queries: AT_MOST
) -> None:
    pieces = sold(PAGE + 10, "2020-03-04")  # due 4 March 2027, invited nine weeks before: 2026-W53
    worked_out()
    desk = signed_in("desk")
    page = page_of(desk, "behind", "2027-W02")
    assert "2026-W53" in page
    assert f">{PAGE + 10}<" in page
    with django_assert_max_num_queries(10):
        first = page_of(desk, "invited", "2026-W53")
    dues = sorted((piece.due_dates.get(kind="overhaul") for piece in pieces), key=lambda due: due.pk)
    assert first.count("/pieces/") == PAGE
    due = dues[PAGE - 1]
    second = page_of(desk, "invited", "2026-W53", after=str(Cursor(due.due_on, due.pk)))
    assert second.count("/pieces/") == 10
    assert "Further" not in second


def test_a_week_or_skill_that_is_not_in_the_picture_is_not_found(signed_in: Callable[..., Client], sold: Sold) -> None:
    recompute([piece.pk for piece in sold(1, "2020-03-04")], as_of=DAY)
    worked_out()
    desk = signed_in("desk")
    for week, skill in (("2026-W50", "clocks"), ("2035-W01", "automatic"), ("2026-W60", "automatic"), ("no", "simple")):
        assert desk.get(reverse("planning:behind", args=[week, skill])).status_code == 404


@pytest.mark.parametrize("text", ["", "2026-11-25", "2026-13-01.4", "2026-11-25.x", "2026-11-25.99999999999999999999"])
def test_a_cursor_that_is_none_begins_at_the_first_page(text: str) -> None:
    assert Cursor.from_text(text) is None
