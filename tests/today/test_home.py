"""Today, for each role."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client

from service_center.book.actions import move_piece
from service_center.book.models import Boutique, Piece
from service_center.book.rules import Place
from service_center.intervals.actions import recompute
from service_center.letters.models import Letter
from service_center.owner_pages.actions.requests import ask
from service_center.owner_pages.rules import RequestKind
from service_center.workshop.models import WorkOrder
from tests.factories import BoutiqueFactory, PieceFactory
from tests.intake.visits import book, keep_hours
from tests.pieces.conftest import TODAY

pytestmark = pytest.mark.django_db


def take_in(piece: Piece, boutique: Boutique, day: int) -> None:
    move_piece(piece, to=Place.BOUTIQUE, boutique=boutique, at=datetime(2026, 3, day, 9, tzinfo=UTC), by=None)


def counts(client: Client, name: str) -> dict[str, str]:
    return {one["state"]: str(one["count"]) for one in client.get("/").context[name]}


def test_the_desk_sees_letters_that_need_a_hand_and_what_is_due(
    piece: Piece, letter_about: Callable[..., Letter], signed_in: Callable[..., Client]
) -> None:
    letter_about(state="in_doubt")
    desk = signed_in("desk")
    assert counts(desk, "letters") == {"in_doubt": "1", "refused": "0", "held": "0", "waiting": "0"}
    assert counts(desk, "due") == {"owed": "0", "overdue": "1", "due": "0", "in_window": "1"}


def test_the_desk_sees_the_orders_that_are_late_or_wait_for_somebody(signed_in: Callable[..., Client]) -> None:
    for number, (step, promised_on) in enumerate([("on_the_bench", 9), ("estimated", 20), ("ready", 10)]):
        piece = PieceFactory(place="boutique" if step == "ready" else "workshop")
        WorkOrder.objects.create(
            number=f"R-2603{number}", piece=piece, owner=piece.owner, boutique=piece.boutique, kind="overhaul",
            step=step, promised_on=date(2026, 3, promised_on), ready_on=TODAY if step == "ready" else None,
            opened_on=date(2026, 3, 2), opened_at=datetime(2026, 3, 2, tzinfo=UTC),
            step_since=datetime(2026, 3, 9, tzinfo=UTC),
        )  # fmt: skip
    orders = signed_in("desk").get("/").context["orders"]
    assert (orders.late, orders.diagnosed, orders.asked, orders.ready) == (1, 0, 1, 1)
    assert orders.without_word == 2, "nobody has told of the estimate, nor that one can be fetched"
    assert signed_in("watchmaker").get("/").context["orders"] is None


def test_a_boutique_counts_its_own_pieces_alone(piece: Piece, signed_in: Callable[..., Client]) -> None:
    other = BoutiqueFactory()
    assert counts(signed_in("boutique", piece.boutique.code), "due")["overdue"] == "1"
    assert counts(signed_in("boutique", other.code), "due")["overdue"] == "0"
    assert signed_in("boutique", other.code).get("/").context["letters"] == []


def test_a_boutique_sees_what_lies_in_its_own_safe(signed_in: Callable[..., Client]) -> None:
    own, other = BoutiqueFactory(), BoutiqueFactory()
    here, there, gone = PieceFactory(boutique=own), PieceFactory(boutique=own), PieceFactory(boutique=own)
    take_in(here, own, 9)
    take_in(there, other, 9)
    take_in(gone, own, 2)
    move_piece(gone, to=Place.WORKSHOP, boutique=None, at=datetime(2026, 3, 4, 9, tzinfo=UTC), by=None)
    context = signed_in("boutique", own.code).get("/").context
    assert [piece.serial for piece in context["here"]] == [here.serial]
    assert str(context["taken_in"]) == "1", "since Monday, 9 March"


def test_a_watchmaker_sees_the_pieces_in_the_house_longest_first(signed_in: Callable[..., Client]) -> None:
    boutique = BoutiqueFactory()
    late, early = PieceFactory(boutique=boutique), PieceFactory(boutique=boutique)
    take_in(late, boutique, 6)
    take_in(early, boutique, 2)
    PieceFactory(boutique=boutique)
    response = signed_in("watchmaker").get("/")
    assert [piece.serial for piece in response.context["here"]] == [early.serial, late.serial]
    assert "Letters" not in response.content.decode()


def test_counts_stop_at_ten_thousand(signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch) -> None:
    pieces = PieceFactory.create_batch(4)
    recompute([piece.pk for piece in pieces], as_of=TODAY)
    monkeypatch.setattr("service_center.today.queries.AT_MOST", 3)
    monkeypatch.setattr("service_center.intervals.queries.listing.AT_MOST", 3)
    assert counts(signed_in("desk"), "due")["in_window"] == "3+"


def test_the_counter_sees_who_comes_today_and_what_is_under_way(
    signed_in: Callable[..., Client], django_assert_max_num_queries: Any
) -> None:
    own, other = keep_hours(BoutiqueFactory(name="Harrowmere"), places=3), keep_hours(BoutiqueFactory())
    coming, elsewhere = PieceFactory(boutique=own), PieceFactory(boutique=other)
    book(own, coming, at="10:30")
    book(other, elsewhere)
    started = PieceFactory(boutique=own)
    with time_machine.travel(datetime(2026, 6, 12, 7, 30, tzinfo=UTC), tick=False):
        client = signed_in("boutique", own.code)
        client.post(f"/counter/take-in/{started.pk}/")
        with django_assert_max_num_queries(20):
            response = client.get("/")
    context, page = response.context, response.content.decode()
    assert [one.piece.serial for one in context["booked"]] == [coming.serial]
    assert [one.piece.serial for one in context["drafts"]] == [started.serial]
    assert "10:30" in page
    assert "Boutique · Harrowmere" in page
    assert elsewhere.serial not in page


def test_the_desk_sees_what_comes_anywhere_and_requests_with_their_last_day(
    letter_about: Callable[..., Letter], signed_in: Callable[..., Client]
) -> None:
    first, second = keep_hours(BoutiqueFactory()), keep_hours(BoutiqueFactory())
    visits = [book(first), book(second)]
    letter = letter_about(state="sent")
    ask(letter, RequestKind.ERASURE, said="", on=date(2026, 6, 1), now=datetime(2026, 6, 1, 9, tzinfo=UTC))
    with time_machine.travel(datetime(2026, 6, 12, 7, 30, tzinfo=UTC), tick=False):
        response = signed_in("desk").get("/")
    assert {one.visit.pk for one in response.context["booked"]} == {visit.pk for visit in visits}
    assert response.context["requests"].first_due_on == date(2026, 7, 1)
    assert "1 request waits for an answer, by 1 July 2026 at the latest." in response.content.decode()


def test_the_bench_is_told_of_neither(letter_about: Callable[..., Letter], signed_in: Callable[..., Client]) -> None:
    letter = letter_about(state="sent")
    ask(letter, RequestKind.ERASURE, said="", on=TODAY, now=datetime(2026, 3, 10, 9, tzinfo=UTC))
    context = signed_in("watchmaker").get("/").context
    assert (context["booked"], context["drafts"], context["requests"]) == ([], [], None)


def test_a_day_with_nothing_booked_asks_nothing(piece: Piece, signed_in: Callable[..., Client]) -> None:
    page = signed_in("desk").get("/").content.decode()
    assert "Booked for today" not in page
    assert "waits for an answer" not in page
