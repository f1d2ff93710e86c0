"""Past promises are scored: by month of the promised day and kind, with counts."""

from collections.abc import Callable
from datetime import date

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from service_center.book.rules import EntryKind
from service_center.planning.queries.promises_kept import promises_kept
from service_center.planning.rules.promising.scoring import Score
from service_center.planning.showing.promises import promises_table
from service_center.workshop.models import WorkOrder

TakenIn = Callable[..., WorkOrder]
AS_OF = date(2026, 5, 15)
APRIL, MAY = date(2026, 4, 1), date(2026, 5, 1)


@pytest.fixture
def promised(taken_in: TakenIn) -> Callable[..., None]:
    """An order that was promised for a day and ready on another, or is not ready yet."""

    def deed(kind: str, promised_on: str, ready_on: str = "", quoted_on: str = "") -> None:
        order = taken_in(kind, promised_on=date.fromisoformat(promised_on))
        order.ready_on = date.fromisoformat(ready_on) if ready_on else None
        order.quoted_on = date.fromisoformat(quoted_on) if quoted_on else None
        order.save()

    return deed


def test_an_order_keeps_its_promise_on_the_day_itself_and_breaks_it_a_day_later(promised: Callable[..., None]) -> None:
    promised("overhaul", "2026-04-20", "2026-04-20")
    promised("overhaul", "2026-04-21", "2026-04-22")
    assert promises_kept(APRIL, AS_OF) == {(APRIL, EntryKind.OVERHAUL): Score(2, 1)}


def test_an_order_that_is_still_here_after_its_day_is_late_and_one_whose_day_is_to_come_is_not_judged(
    promised: Callable[..., None],
) -> None:
    promised("repair", "2026-05-14")
    promised("repair", "2026-05-15")
    promised("repair", "2026-06-01", "2026-05-10")
    assert promises_kept(APRIL, AS_OF) == {(MAY, EntryKind.REPAIR): Score(1, 0)}


def test_the_quoted_day_is_scored_beside_the_promised_one(promised: Callable[..., None]) -> None:
    promised("overhaul", "2026-04-20", "2026-04-18", quoted_on="2026-04-17")
    promised("overhaul", "2026-04-20", "2026-04-18", quoted_on="2026-04-20")
    promised("overhaul", "2026-04-20", "2026-04-18")
    promised("overhaul", "2026-04-20", "2026-04-18", quoted_on="2026-05-20")  # that day is still to come
    assert promises_kept(APRIL, AS_OF) == {(APRIL, EntryKind.OVERHAUL): Score(4, 4, 2, 1)}


def test_months_before_the_first_are_left_out_and_the_latest_stands_first(promised: Callable[..., None]) -> None:
    promised("battery", "2026-03-31", "2026-03-31")
    promised("battery", "2026-04-01", "2026-04-01")
    promised("strap", "2026-05-02", "2026-05-04")
    table = promises_table(promises_kept(APRIL, AS_OF))
    assert [row.month for row in table.months] == [MAY, APRIL]
    assert [str(kind) for kind in table.kinds] == ["Battery", "Strap"]
    assert [cell.percent for cell in table.months[0].cells] == [None, 0]
    assert table.in_all
    assert (table.in_all.all_kinds.score, table.in_all.all_kinds.percent) == (Score(2, 1), 50)


@time_machine.travel("2026-05-15T10:00:00Z", tick=False)
def test_the_page_shows_shares_with_their_counts(
    promised: Callable[..., None], signed_in: Callable[..., Client]
) -> None:
    page = reverse("planning:promises")
    desk = signed_in("desk")
    assert "No promised day is over yet." in desk.get(page).content.decode()
    for day in ("2026-04-20", "2026-04-22", "2026-04-24"):
        promised("overhaul", "2026-04-22", day, quoted_on="2026-04-23")
    shown = desk.get(page).content.decode()
    assert "<strong>67 %</strong> of promises were kept: 2 of 3." in shown
    assert "April 2026" in shown
    assert "2 of 3 held: 67 %. With so many orders the true share lies between 21 and 94 %." in shown
    assert signed_in("boutique").get(page).status_code == 403
