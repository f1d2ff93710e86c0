"""One of many values in one place of a statement finds what Django's own `in` finds, on both databases."""

import pytest

from service_center.book.models import Owner, Piece
from tests.factories import OwnerFactory, PieceFactory

pytestmark = pytest.mark.django_db

TRICKY = ["plain", "O'Hara", 'a "quoted" one', "50% off", "back\\slash", "{braces}", "東京", "line\nbreak", ""]


def test_texts_are_found_whatever_they_hold() -> None:
    for name in [*TRICKY, "another"]:
        OwnerFactory.create(name=name)
    found = Owner.objects.filter(name__one_of=TRICKY)
    assert {owner.name for owner in found} == set(TRICKY)
    assert set(found) == set(Owner.objects.filter(name__in=TRICKY))


def test_rows_are_found_by_their_own_number_and_by_that_of_what_they_belong_to() -> None:
    mine, theirs = PieceFactory.create(), PieceFactory.create()
    assert mine.owner_id
    assert theirs.owner_id
    assert set(Piece.objects.filter(pk__one_of={mine.pk, theirs.pk})) == {mine, theirs}
    assert set(Piece.objects.filter(owner_id__one_of=[mine.owner_id])) == {mine}
    assert set(Piece.objects.filter(owner__pk__one_of=[mine.owner_id])) == {mine}


def test_one_of_none_is_nothing() -> None:
    PieceFactory.create()
    assert not Piece.objects.filter(pk__one_of=[]).exists()
