"""The piece's page answers for any day from the facts dated up to it."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from service_center.book.actions import move_piece
from service_center.book.models import Piece
from service_center.book.rules import Place
from service_center.measurements.actions import record_sheet
from service_center.measurements.rules import Reading, Wind
from tests.factories import BoutiqueFactory, PieceFactory, history

pytestmark = pytest.mark.django_db


def page(client: Client, piece: Piece, query: str = "") -> HttpResponse:
    return client.get(f"/pieces/{piece.pk}/{query}")  # type: ignore[return-value]


def text(answer: HttpResponse) -> str:
    return answer.content.decode()


def overhaul(answer: HttpResponse) -> dict[str, object]:
    return next(one for one in answer.context["due"] if one["kind"] == "overhaul")  # type: ignore[attr-defined]


def test_a_past_day_knows_nothing_of_the_overhaul_that_came_later(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    history(piece, "2024-02-02")
    desk = signed_in("desk")
    assert str(overhaul(page(desk, piece))["due"].due_on) == "2031-02-02"  # type: ignore[attr-defined]
    then = page(desk, piece, "?as_of=2024-02-01")
    assert str(overhaul(then)["due"].due_on) == "2026-05-17"  # type: ignore[attr-defined]
    happened = then.context["happened"]  # type: ignore[attr-defined]
    assert [moment.what for moment in happened["later"]] == ["Overhaul"]
    assert [moment.what for moment in happened["known"]] == ["Sold", "Made"]


def test_a_future_day_says_what_will_be_due(piece: Piece, signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    assert overhaul(page(desk, piece, "?as_of=2026-05-16"))["state"] == "in_window"
    assert overhaul(page(desk, piece, "?as_of=2026-05-17"))["state"] == "due"
    assert overhaul(page(desk, piece, "?as_of=2027-05-17"))["state"] == "overdue"


def test_the_page_says_at_which_day_it_stands_and_leads_back_to_today(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    desk = signed_in("desk")
    then = text(page(desk, piece, "?as_of=2027-03-01"))
    assert "This page stands at Monday, 1 March 2027." in then
    assert "Back to today, 10 Mar 2026" in then
    assert "This page stands at" not in text(page(desk, piece))


def test_deeds_are_offered_today_alone(piece: Piece, signed_in: Callable[..., Client]) -> None:
    history(piece, "2024-02-02")
    desk = signed_in("desk")
    deeds = (f"/pieces/{piece.pk}/entries/", f"/counter/{piece.pk}/", ">correct<")
    assert sum(deed in text(page(desk, piece)) for deed in deeds) >= 2
    assert not any(deed in text(page(desk, piece, "?as_of=2026-03-09")) for deed in deeds)


def test_custody_is_that_of_the_day(piece: Piece, signed_in: Callable[..., Client]) -> None:
    for place, boutique, at in (
        (Place.BOUTIQUE, piece.boutique, datetime(2025, 1, 7, 9, tzinfo=UTC)),
        (Place.WORKSHOP, None, datetime(2025, 1, 9, 9, tzinfo=UTC)),
        (Place.OWNER, None, datetime(2025, 2, 9, 9, tzinfo=UTC)),
    ):
        move_piece(piece, to=place, boutique=boutique, at=at, by=None)
    desk = signed_in("desk")
    held = {
        day: page(desk, piece, f"?as_of={day}").context["holding"].where  # type: ignore[attr-defined]
        for day in ("2025-01-06", "2025-01-07", "2025-01-09", "2025-02-09")
    }
    assert list(held.values()) == ["With the owner", "At Harrowmere", "In the workshop", "With the owner"]
    assert overhaul(page(desk, piece, "?as_of=2025-01-08"))["state"] == "held"


def test_cover_is_that_of_the_day(piece: Piece, signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    covered = [
        page(desk, piece, f"?as_of={day}").context["guarantee"]["covered"]  # type: ignore[attr-defined]
        for day in ("2019-05-16", "2021-05-17", "2021-05-18")
    ]
    assert covered == [False, True, False]


def test_an_entry_corrected_on_a_later_day_is_still_believed_the_day_before(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    wrong = history(piece, "2022-02-02")
    history(piece, "2024-04-04", voids=wrong)
    desk = signed_in("desk")
    before, after = (page(desk, piece, f"?as_of={day}") for day in ("2024-04-03", "2024-04-04"))
    assert str(overhaul(before)["due"].start.on) == "2022-02-02"  # type: ignore[attr-defined]
    assert str(overhaul(after)["due"].start.on) == "2024-04-04"  # type: ignore[attr-defined]
    assert "no longer counts" not in text(before)
    assert "no longer counts" in text(after)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("2027-02-30", "As of: write the day as 2027-03-01"),
        ("soon", "As of: write the day as 2027-03-01"),
        ("01.03.2027", "As of: write the day as 2027-03-01"),
        ("2027-03-01%00", "As of: write the day as 2027-03-01"),
        ("9999-12-31", "As of: the page answers for days from 1900-01-01 to 2199-12-31."),
        ("0001-01-01", "As of: the page answers for days from 1900-01-01 to 2199-12-31."),
    ],
)
def test_a_day_that_is_none_is_refused_with_its_reason_and_the_page_stands_at_today(
    piece: Piece, signed_in: Callable[..., Client], asked: str, said: str
) -> None:
    answer = page(signed_in("desk"), piece, f"?as_of={asked}")
    assert answer.status_code == 400
    assert said in text(answer)
    assert answer.context["as_of"] == date(2026, 3, 10)  # type: ignore[attr-defined]


@pytest.mark.parametrize("day", ["1900-01-01", "2199-12-31"])
def test_the_first_and_the_last_day_are_answered(piece: Piece, signed_in: Callable[..., Client], day: str) -> None:
    history(piece, "2024-02-02")
    assert page(signed_in("desk"), piece, f"?as_of={day}").status_code == 200


def test_another_boutique_s_staff_see_nothing_on_any_day(piece: Piece, signed_in: Callable[..., Client]) -> None:
    elsewhere = signed_in("boutique", BoutiqueFactory().code)
    assert page(elsewhere, piece, "?as_of=2020-01-01").status_code == 404


def test_of_a_stolen_piece_the_counter_learns_no_owner_on_any_day(signed_in: Callable[..., Client]) -> None:
    stolen = PieceFactory(status="stolen")
    counter = signed_in("boutique", stolen.boutique.code)
    for query in ("", "?as_of=2020-01-01", "?show=letters"):
        assert stolen.owner.name not in text(page(counter, stolen, query))


def test_a_day_costs_as_many_statements_as_today_however_much_is_on_record(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    desk = signed_in("desk")
    record_sheet(piece, [Reading("6H", Wind.FULL, Decimal(1), Decimal(270), None)], taken_on=date(2020, 1, 1), by=None)
    page(desk, piece)
    with CaptureQueriesContext(connection) as short:
        page(desk, piece)
    for year in range(2020, 2026):
        history(piece, f"{year}-02-02", kind="strap", case_opened=False, tightness="not_tested")
        reading = Reading("6H", Wind.FULL, Decimal(1), Decimal(270 - year % 7), None)
        record_sheet(piece, [reading], taken_on=date(year, 2, 1), by=None)
    with CaptureQueriesContext(connection) as long:
        page(desk, piece, "?as_of=2025-12-31")
    assert len(long) == len(short)
