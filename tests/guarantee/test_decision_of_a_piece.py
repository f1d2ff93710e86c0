"""The decision for a piece in the book, and how it is said."""

from datetime import date

import holidays
import pytest
from django.utils import translation

from service_center.book.actions import strike_entry
from service_center.guarantee import words
from service_center.guarantee.queries import decision_of, working_days
from service_center.guarantee.rules import CoveredBy, cover
from tests.factories import PieceFactory, history


@pytest.mark.django_db
def test_a_piece_is_decided_from_its_own_history_in_two_statements(django_assert_num_queries):
    piece = PieceFactory(sold_on=date(2010, 5, 1))
    history(piece, "2025-01-10", kind="repair")
    history(piece, "2025-08-10", kind="repair", done_by="outside")
    history(piece, "2026-08-10", kind="repair")
    with django_assert_num_queries(2):
        decision = decision_of(piece, date(2026, 3, 2), country="GB")
    assert decision.covered_by is CoveredBy.WORK
    assert decision.cover.to_on == date(2027, 1, 10)


@pytest.mark.django_db
def test_an_entry_that_was_struck_guarantees_nothing():
    piece = PieceFactory(sold_on=date(2010, 5, 1))
    wrong = history(piece, "2025-01-10", kind="repair")
    assert decision_of(piece, date(2026, 3, 2), country="").covered_by is CoveredBy.WORK
    strike_entry(wrong, reason="Belongs to another piece.", by=None)
    assert decision_of(piece, date(2026, 3, 2), country="").covered_by is CoveredBy.NONE


def test_the_desk_reads_why_and_until_when():
    decision = _decide(date(2026, 2, 27))
    assert words.name_of(decision.covered_by) == "Guarantee"
    assert words.sentence(decision) == "The guarantee from the day of sale runs to 28 February 2026, that day included."
    assert words.notes(decision) == [
        (
            "28 February 2026 is no working day. Where the law moves such a day to the next working day, the guarantee runs "
            "to 2 March 2026."
        ),
        "It can be extended until 28 February 2026, that day included.",
    ]


def test_a_day_that_only_the_law_may_add_is_left_to_a_person():
    decision = _decide(date(2026, 3, 2))
    assert decision.covered_by is CoveredBy.NONE
    assert words.sentence(decision) == "The guarantee ended on 28 February 2026 and was not extended."
    assert words.notes(decision) == [
        (
            "Guarantee: the last day, 28 February 2026, was no working day. Where the law moves such a day to the next "
            "working day, it still runs to 2 March 2026: a person decides."
        )
    ]


def test_dates_are_written_as_the_reader_writes_them():
    with translation.override("de"):
        assert "28. Februar 2026" in words.sentence(_decide(date(2026, 2, 27)))


@pytest.mark.parametrize("country", ["GB", "JP", "IT", "US"])
def test_working_days_are_those_of_the_holidays_library_without_weekends(country):
    worked = working_days(country)
    known = holidays.country_holidays(country, years=2026)
    every_day = [date.fromordinal(n) for n in range(date(2026, 1, 1).toordinal(), date(2027, 1, 1).toordinal())]
    assert [one for one in every_day if worked(one)] == [
        one for one in every_day if one.isoweekday() <= 5 and one not in known
    ]
    assert not worked(date(2026, 1, 1))


def test_a_country_that_is_not_known_has_weekends_alone():
    assert working_days("")(date(2026, 12, 25))
    assert not working_days("XX")(date(2026, 12, 26))


def _decide(as_of):
    return cover(
        sold_on=date(2024, 2, 29),
        extension_enrolled_on=None,
        history=[],
        as_of=as_of,
        is_working_day=working_days("GB"),
    )
