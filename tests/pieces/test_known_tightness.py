"""What is known of a piece's tightness, and never more than that."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from service_center.book.models import Piece
from service_center.book.rules import ServiceKind
from service_center.intervals.queries import due_of
from service_center.pieces.tightness import KnownTightness, known_tightness
from tests.factories import PieceFactory, WatchModelFactory, history

pytestmark = pytest.mark.django_db
DAY = date(2026, 3, 10)


def known(piece: Piece, day: date = DAY) -> KnownTightness:
    piece = Piece.objects.get(pk=piece.pk)
    due = {one.kind: one for one in due_of(piece, day)}
    return known_tightness(piece, due.get(ServiceKind.TIGHTNESS), day)


def test_the_last_test_is_told_with_its_day_its_result_and_by_whom() -> None:
    piece = PieceFactory()
    history(piece, "2023-02-02", kind="tightness_check", tightness="failed")
    history(piece, "2023-03-03", kind="repair", tightness="passed")
    found = known(piece)
    assert (found.result, found.by, found.at) == ("Passed on 3 Mar 2023", "Our own workshop", "Repair")
    assert found.rating == "10 bar, marked 100 m (ISO 22810)"
    assert known(piece, date(2023, 3, 2)).result == "Failed on 2 Feb 2023"


def test_a_pass_from_outside_without_a_document_is_told_as_no_pass() -> None:
    piece = PieceFactory()
    history(piece, "2023-02-02", done_by="outside", accepted=False, tightness="passed")
    assert known(piece).counts == "No document was seen: it counts as no pass."


def test_a_case_opened_since_is_told_beside_the_pass_before_it() -> None:
    piece = PieceFactory()
    history(piece, "2023-02-02")
    history(piece, "2024-02-02", kind="battery", tightness="not_tested")
    found = known(piece)
    assert found.result == "Passed on 2 Feb 2023"
    assert found.since == "The case was opened on 2 Feb 2024, and no test has passed since."


def test_a_test_that_was_struck_out_is_not_told() -> None:
    piece = PieceFactory()
    wrong = history(piece, "2023-02-02")
    history(piece, "2023-02-02", kind="strap", tightness="not_tested", case_opened=False, voids=wrong)
    assert known(piece).result == ""


def test_a_diver_s_watch_is_named_by_its_own_standard() -> None:
    piece = PieceFactory(model=WatchModelFactory(rated_bar=30, divers=True))
    assert known(piece).rating == "30 bar, marked 300 m, as a diver's watch (ISO 6425)"


def test_the_page_never_says_that_the_case_keeps_water_out_today(signed_in: Callable[..., Client]) -> None:
    piece, desk = PieceFactory(), signed_in("desk")
    history(piece, "2026-03-09")
    text = desk.get(f"/pieces/{piece.pk}/").content.decode()
    assert "nobody can say from here whether the case keeps water out today" in text
    assert not any(claim in text.lower() for claim in ("waterproof", "is tight", "water-tight"))


def test_a_model_without_a_rating_is_told_to_stay_dry(signed_in: Callable[..., Client]) -> None:
    piece = PieceFactory(model=WatchModelFactory(rated_bar=None))
    assert "Keep it away from water." in signed_in("desk").get(f"/pieces/{piece.pk}/").content.decode()
