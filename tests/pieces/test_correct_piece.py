"""The desk writes down that a piece is stolen, lost or found again, or corrects what the book says of it."""

from collections.abc import Callable

import pytest
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter
from tests.factories import WatchModelFactory
from tests.owner_pages.conftest import words_of

Signed = Callable[..., Client]
KNOWN = "Told by the owner, who sent the report of the police."


def write(desk: Client, piece: Piece, **said: str) -> int:
    stands = {"status": "in_use", "use": "everyday", "model": piece.model_id, "sold_on": "2019-05-17", "why": KNOWN}
    return desk.post(f"/pieces/{piece.pk}/correct/", stands | said).status_code


def test_a_stolen_piece_is_held_at_once_and_its_letter_ends(
    signed_in: Signed, piece: Piece, letter_about: Callable[..., Letter]
) -> None:
    letter, desk = letter_about(), signed_in("desk")
    assert write(desk, piece, status="stolen") == 302
    assert DueDate.objects.get(piece=piece, kind="overhaul").held
    letter.refresh_from_db()
    assert (letter.state, letter.reason) == ("ended", "recorded as stolen")
    text = words_of(desk, f"/pieces/{piece.pk}/")
    assert "Recorded as stolen" in text
    assert KNOWN in text
    assert KNOWN not in words_of(signed_in("boutique", piece.boutique.code), f"/pieces/{piece.pk}/")
    kept = Trail.objects.get(deed="correct_piece")
    assert (kept.before, kept.after, kept.reason) == ({"status": "in_use"}, {"status": "stolen"}, KNOWN)


def test_found_again_it_is_invited_again(signed_in: Signed, piece: Piece) -> None:
    desk = signed_in("desk")
    write(desk, piece, status="stolen")
    assert write(desk, piece, status="in_use") == 302
    assert not DueDate.objects.get(piece=piece, kind="overhaul").held
    assert "Found again" in words_of(desk, f"/pieces/{piece.pk}/")


def test_a_model_without_a_rating_takes_the_tightness_check_away(signed_in: Signed, piece: Piece) -> None:
    dry = WatchModelFactory(rated_bar=None)
    write(signed_in("desk"), piece, model=str(dry.pk))
    assert list(DueDate.objects.filter(piece=piece).values_list("kind", flat=True)) == ["overhaul"]


def test_the_same_said_again_writes_nothing(signed_in: Signed, piece: Piece) -> None:
    assert write(signed_in("desk"), piece) == 302
    assert not Trail.objects.filter(deed="correct_piece").exists()


@pytest.mark.parametrize(
    ("said", "refused"),
    [
        ({"why": ""}, "This field is required."),
        ({"sold_on": "2026-03-11"}, "That day is still to come."),
        ({"sold_on": "2018-11-04"}, "The piece was made after that day."),
        ({"status": "melted"}, "not one of the available choices"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_typed_is_lost(
    signed_in: Signed, piece: Piece, said: dict[str, str], refused: str
) -> None:
    stands = {"status": "lost", "use": "in_water", "model": "", "sold_on": "", "why": KNOWN}
    answer = signed_in("desk").post(f"/pieces/{piece.pk}/correct/", stands | said)
    assert answer.status_code == 422
    assert refused in answer.content.decode()
    assert 'value="in_water"' in answer.content.decode()
    piece.refresh_from_db()
    assert (piece.status, piece.use) == ("in_use", "everyday")


def test_counters_and_benches_tell_the_desk_instead(signed_in: Signed, piece: Piece) -> None:
    for role in ("boutique", "watchmaker"):
        assert write(signed_in(role, piece.boutique.code), piece, status="stolen") == 403
