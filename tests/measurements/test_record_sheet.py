"""A sheet is kept whole or not at all, and comes back as it was taken."""

from datetime import date
from decimal import Decimal

import pytest

from service_center.measurements.actions import ImpossibleReadingsError, record_sheet
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import readings_of, sheets_of
from service_center.measurements.rules import Reading, Wind
from tests.factories import PieceFactory, StaffFactory

pytestmark = pytest.mark.django_db

UPRIGHT = Reading("6H", Wind.FULL, Decimal("1.5"), Decimal(255), Decimal("0.3"))
FLAT = Reading("CH", Wind.FULL, Decimal("4.0"), Decimal(285), None)
FLAT_LATER = Reading("CH", Wind.AFTER_24H, Decimal("1.0"), Decimal(245), Decimal("0.35"))


def test_a_sheet_comes_back_by_wind_and_position_with_what_was_read():
    sheet = record_sheet(
        PieceFactory(), [FLAT_LATER, UPRIGHT, FLAT], taken_on=date(2026, 3, 2), by=StaffFactory(), instrument="T-1"
    )
    assert readings_of(sheet) == [FLAT, UPRIGHT, FLAT_LATER]


def test_a_sheet_with_an_impossible_reading_leaves_nothing_behind():
    impossible = Reading("3H", Wind.FULL, Decimal("1.0"), Decimal(361), Decimal("0.3"))
    with pytest.raises(ImpossibleReadingsError, match="3H full amplitude: an amplitude above 360"):
        record_sheet(PieceFactory(), [FLAT, impossible], taken_on=date(2026, 3, 2), by=None)
    assert TimingSheet.objects.count() == 0


def test_a_sheet_without_readings_is_refused():
    with pytest.raises(ValueError, match="at least one reading"):
        record_sheet(PieceFactory(), [], taken_on=date(2026, 3, 2), by=None)


def test_the_sheets_of_a_piece_are_read_in_two_statements_latest_first(django_assert_num_queries):
    piece = PieceFactory()
    record_sheet(PieceFactory(), [FLAT], taken_on=date(2026, 3, 5), by=None)
    for day in (2, 4, 3):
        record_sheet(piece, [FLAT, UPRIGHT], taken_on=date(2026, 3, day), by=None)
    with django_assert_num_queries(2):
        found = sheets_of(piece)
    assert [sheet.taken_on.day for sheet, _readings in found] == [4, 3, 2]
    assert all(readings == [FLAT, UPRIGHT] for _sheet, readings in found)
    assert [sheet.taken_on.day for sheet, _readings in sheets_of(piece, as_of=date(2026, 3, 3))] == [3, 2]
