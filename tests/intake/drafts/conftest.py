"""A boutique at half past ten, and a piece at its counter of which a drop-off was begun."""

import pytest

from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory


@pytest.fixture(autouse=True)
def _the_day(time_machine):
    time_machine.move_to("2026-03-02T10:30:00Z", tick=False)


@pytest.fixture
def here():
    return BoutiqueFactory(code="HARROW", name="Harrowmere")


@pytest.fixture
def piece(here):
    return PieceFactory(serial="FH21-000123", boutique=here, owner=OwnerFactory(name="Ada Winter"))


@pytest.fixture
def counter(signed_in, counter_of, here):
    return counter_of(signed_in("boutique", here.code))


@pytest.fixture
def begun(counter, piece):
    counter.begin(piece)
    return counter
