"""Handing a piece back: the finished service, the owner's hands, the new interval, in one go."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from service_center.book.actions import move_piece
from service_center.book.models import Custody, HistoryEntry, Piece
from service_center.book.rules import EntryKind, Place, Tightness
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter
from service_center.pieces.actions import WithItsOwnerError, hand_back
from tests.factories import StaffFactory
from tests.pieces.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def held(piece: Piece) -> Piece:
    """The same piece, taken in at its boutique a week ago."""
    at = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=at, by=None)
    recompute([piece.pk], as_of=TODAY)
    return piece


def back(piece: Piece, **changes: Any) -> HistoryEntry:
    deed: dict[str, Any] = {
        "on": TODAY,
        "at": datetime(2026, 3, 10, 9, 0, tzinfo=UTC),
        "by": StaffFactory(role="watchmaker"),
        "kind": EntryKind.OVERHAUL,
        "case_opened": True,
        "tightness": Tightness.PASSED,
        "note": "",
        "as_of": TODAY,
    }
    return hand_back(piece, **deed | changes)


def test_a_piece_handed_back_is_with_its_owner_and_no_longer_held(held: Piece) -> None:
    assert DueDate.objects.get(piece=held, kind="overhaul").held == "workshop"
    back(held)
    held.refresh_from_db()
    row = DueDate.objects.get(piece=held, kind="overhaul")
    assert (held.place, row.held, row.due_on) == ("owner", "", date(2033, 3, 10))


def test_handing_back_ends_the_letters_of_the_old_interval(held: Piece, letter_about: Callable[..., Letter]) -> None:
    letters = [letter_about("overhaul", "held")]
    back(held)
    assert [Letter.objects.get(pk=letter.pk).state for letter in letters] == ["ended"]


def test_a_piece_that_its_owner_has_is_not_handed_back_and_nothing_is_written(piece: Piece) -> None:
    with pytest.raises(WithItsOwnerError):
        back(piece)
    assert not HistoryEntry.objects.exists()
    assert not Custody.objects.exists()


def test_a_double_tap_hands_back_once(held: Piece, signed_in: Callable[..., Client]) -> None:
    sent = {
        "form_key": str(uuid4()),
        "kind": "overhaul",
        "done_on": "2026-03-09",
        "case_opened": "yes",
        "tightness": "passed",
    }
    bench = signed_in("watchmaker")
    assert [bench.post(f"/pieces/{held.pk}/hand-back/", sent).status_code for _ in range(3)] == [302, 302, 302]
    assert HistoryEntry.objects.filter(piece=held).count() == 1
    assert list(Custody.objects.order_by("pk").values_list("place", flat=True)) == ["boutique", "owner"]


def test_a_rated_piece_goes_back_without_a_passed_test_only_with_a_word_why(
    held: Piece, signed_in: Callable[..., Client]
) -> None:
    sent = {
        "form_key": str(uuid4()),
        "kind": "repair",
        "done_on": "2026-03-10",
        "case_opened": "yes",
        "tightness": "failed",
    }
    bench = signed_in("watchmaker")
    refused = bench.post(f"/pieces/{held.pk}/hand-back/", sent)
    assert "Say why the piece goes back without a passed test" in refused.content.decode()
    assert not HistoryEntry.objects.exists()
    told = {**sent, "note": "Case back worn out; owner told to keep it dry."}
    assert bench.post(f"/pieces/{held.pk}/hand-back/", told).status_code == 302
    assert DueDate.objects.get(piece=held, kind="tightness").owed_since == TODAY


def test_the_page_cautions_about_water(held: Piece, signed_in: Callable[..., Client]) -> None:
    assert "keep the piece away from water" in signed_in("desk").get(f"/pieces/{held.pk}/hand-back/").content.decode()


def test_a_second_form_after_the_hand_over_is_told_that_the_owner_has_it(
    held: Piece, signed_in: Callable[..., Client]
) -> None:
    back(held)
    sent = {
        "form_key": str(uuid4()),
        "kind": "strap",
        "done_on": "2026-03-10",
        "case_opened": "no",
        "tightness": "not_tested",
    }
    answer = signed_in("desk").post(f"/pieces/{held.pk}/hand-back/", sent)
    assert "The owner has this piece already." in answer.content.decode()
    assert HistoryEntry.objects.filter(piece=held).count() == 1
