"""The desk's page of parts: what to order now, what later, and the same on paper."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.planning.parts.actions import count_parts
from service_center.planning.parts.order_list import parts_list
from service_center.planning.parts.queries import counted_parts
from service_center.planning.queries.pictures import latest_picture
from tests.planning.parts.shelf import AT, DAY, laid, on_the_day, part

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches", "today")


def page(client: Client, **data: str) -> str:
    answer = client.get(reverse("planning:parts"), data)
    assert answer.status_code == 200
    return answer.content.decode()


def test_before_the_weeks_are_worked_out_the_page_says_so_and_can_ask_for_it(signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    assert "have not been worked out yet" in page(desk)
    answer = desk.post(reverse("planning:work_out"), {"weeks": "52", "page": "parts"})
    assert answer["Location"].startswith(reverse("planning:parts"))
    assert "Being worked out since" in page(desk)


def test_the_page_says_what_to_order_and_the_rest_is_one_step_away(
    signed_in: Callable[..., Client], sold: Sold, by: Staff
) -> None:
    part("A-1", name="Crown gasket")
    full = part("A-2", name="Crystal gasket")
    laid(full, 2000, by)
    sold(100, "2020-03-04")
    on_the_day()
    desk = signed_in("desk")
    shown = page(desk)
    assert "Crown gasket" in shown
    assert "Crystal gasket" not in shown
    assert "1 part of which enough is there" in shown
    assert "Crystal gasket" in page(desk, all="1")
    assert "An order lasts 26 weeks" in page(desk, cover="nonsense")


def test_a_watchmaker_sees_the_parts_and_no_way_to_pages_that_are_closed_to_them(
    signed_in: Callable[..., Client],
) -> None:
    on_the_day()
    assert reverse("planning:proposal") not in page(signed_in("watchmaker"))


def test_many_parts_come_in_pages_the_most_urgent_first(
    signed_in: Callable[..., Client], sold: Sold, by: Staff
) -> None:
    for number in range(60):
        part(f"A-{number:02d}", delivery_days=14)
    laid(part("B-00", name="Crystal gasket"), 30, by)
    sold(200, "2019-08-05")
    on_the_day()
    desk = signed_in("desk")
    first, second = page(desk), page(desk, page="2")
    assert "1 to 50 of 61" in first
    assert "A-00" in first
    assert "A-59" in second
    assert "Order later" not in first
    assert "Crystal gasket" in second


def test_the_list_goes_on_paper(signed_in: Callable[..., Client], sold: Sold) -> None:
    part()
    sold(60, "2020-03-04")
    on_the_day()
    answer = signed_in("desk").get(reverse("planning:parts_paper"), {"size": "letter"})
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")


def test_there_is_no_paper_before_the_weeks_are_worked_out(signed_in: Callable[..., Client]) -> None:
    answer = signed_in("desk").get(reverse("planning:parts_paper"), follow=True)
    assert "have not been worked out yet" in answer.content.decode()


def test_more_parts_cost_no_more_statements(sold: Sold) -> None:
    part("A-0")
    on_the_day()
    picture = latest_picture(52).picture
    assert picture
    counts = []
    for number in (1, 6):
        for more in range(number):
            part(f"B-{number}-{more}")
        count_parts(as_of=DAY, now=AT)
        with CaptureQueriesContext(
            connection,
        ) as ran:
            parts_list(picture, timezone.localdate(), 26)
        counts.append(len(ran))
    assert counts == [3, 3]
    assert len(counted_parts()[0]) == 8
