"""Readings bring the overhaul forward, never push it back (due-dates.md, evidence)."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.book.rules import ServiceKind
from service_center.intervals import queries
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.intervals.rules import HOUSE_DEFAULTS, Amplitude, EvidenceFact, because, due_dates, state_on
from service_center.measurements.models import Reading, TimingSheet
from service_center.measurements.rules import POSITIONS, Wind
from tests.factories import PieceFactory, history
from tests.intervals.facts import days, due, overhaul, piece
from tests.intervals.plain_reading.book import Reading as PlainReading
from tests.intervals.plain_reading.due import plain_due

BY_RULE = ("2025-05-17", "2026-05-17", "2027-05-17")


def read(on: str, degrees: float, position: str = "6H", wind: str = "full") -> Amplitude:
    return Amplitude(date.fromisoformat(on), Wind(wind), position, degrees)


def with_readings(*amplitudes: Amplitude, as_of: str = "2026-03-01", **facts):
    return due(replace(piece(**facts), amplitudes=amplitudes), "overhaul", as_of)


@pytest.mark.parametrize(
    ("amplitude", "owed"),
    [
        (read("2024-02-01", 219), True),
        (read("2024-02-01", 220), False),
        (read("2024-02-01", 219, position="CH"), True),
        (read("2024-02-01", 189, wind="24h"), True),
        (read("2024-02-01", 190, wind="24h"), False),
        (read("2024-02-01", 189, position="CB", wind="24h"), False),
        (read("2024-02-01", 100, wind="end"), False),
    ],
)
def test_a_reading_below_the_limit_makes_the_overhaul_owed_from_its_day(amplitude, owed) -> None:
    found = with_readings(amplitude)
    assert (state_on(date(2026, 3, 1), found) == "owed") is owed
    assert days(found) == (("2024-02-01",) * 3 if owed else BY_RULE)


def test_a_reading_on_the_day_of_the_start_or_before_it_is_of_the_interval_before() -> None:
    assert with_readings(read("2019-05-17", 180)).evidence is None
    assert with_readings(read("2019-05-18", 180)).evidence is not None


def test_an_overhaul_settles_what_was_read_before_it() -> None:
    facts = replace(piece(overhaul("2024-03-01")), amplitudes=(read("2024-02-01", 180),))
    assert due(facts, "overhaul", "2026-03-01").evidence is None


def test_the_earliest_reading_that_fell_short_decides_and_a_better_one_later_takes_nothing_back() -> None:
    found = with_readings(read("2024-02-01", 210), read("2023-02-01", 215), read("2025-02-01", 280))
    assert found.evidence is not None
    assert (str(found.evidence.on), found.evidence.degrees) == ("2023-02-01", 215)


def test_a_reading_after_closes_pushes_nothing_back() -> None:
    found = with_readings(read("2028-01-01", 180), as_of="2028-02-01")
    assert days(found) == BY_RULE
    assert state_on(date(2028, 2, 1), found) == "owed"


def test_readings_dated_after_the_day_of_the_question_do_not_exist_yet() -> None:
    assert with_readings(read("2024-02-01", 180), as_of="2024-01-31").evidence is None


def falling(*degrees: float, wind: str = "full", position: str = "6H") -> list[Amplitude]:
    return [read(f"{2020 + n}-06-01", value, position, wind) for n, value in enumerate(degrees)]


def test_a_falling_trend_moves_the_due_date_to_the_day_it_reaches_the_limit_and_opens_with_it() -> None:
    found = with_readings(*falling(280, 264, 248, 232), as_of="2023-07-01")
    assert found.evidence is not None
    assert found.evidence.fact is EvidenceFact.TREND
    assert days(found) == ("2024-03-01", "2024-03-01", "2027-05-17")
    assert state_on(date(2023, 7, 1), found) == "not_yet"
    assert found.by_rule is not None
    assert str(found.by_rule.due_on) == "2026-05-17"


def test_a_trend_that_reaches_the_limit_between_opens_and_due_moves_the_due_date_alone() -> None:
    found = with_readings(*falling(280, 268, 257, 245), as_of="2023-07-01")
    assert days(found)[0] == "2025-05-17"
    assert "2025-05-17" < days(found)[1] < "2026-05-17"


def test_a_trend_that_reaches_the_limit_after_the_due_date_changes_nothing() -> None:
    found = with_readings(*falling(300, 299, 298), as_of="2023-07-01")
    assert found.evidence is None
    assert days(found) == BY_RULE


def test_two_visits_are_no_trend_and_a_wavering_figure_is_none_either() -> None:
    assert with_readings(*falling(280, 240), as_of="2023-07-01").evidence is None
    assert with_readings(*falling(280, 225, 285, 224), as_of="2023-07-01").evidence is None


def test_visits_before_the_start_do_not_belong_to_the_trend() -> None:
    facts = replace(piece(overhaul("2021-01-01")), amplitudes=tuple(falling(280, 264, 248)))
    assert due(facts, "overhaul", "2023-07-01").evidence is None


def test_only_positions_that_every_visit_read_are_compared() -> None:
    flat = [read(f"{2020 + n}-06-01", 290, "CH") for n in range(3)]
    assert with_readings(*flat, read("2020-06-01", 280), read("2021-06-01", 255), as_of="2023-07-01").evidence is None


def test_the_sentence_and_the_record_show_the_date_by_rule_beside_the_evidence() -> None:
    reason = because(with_readings(read("2024-02-01", 184, wind="24h")), date(2026, 3, 1))
    assert reason.sentence.startswith(
        "The overhaul is owed since 1 February 2024, when an amplitude of 184 degrees was read in 6H 24 h after full "
        "wind, below the limit of 190; by the rule alone the day is 17 May 2026, counted from the sale on 17 May 2019"
    )
    record = reason.record()
    assert record["evidence"]["fact"] == "reading"
    assert record["otherwise"] == dict(zip(("opens_on", "due_on", "closes_on"), BY_RULE, strict=True))


AMPLITUDES = st.lists(
    st.builds(
        Amplitude,
        st.dates(date(2019, 1, 1), date(2030, 1, 1)),
        st.sampled_from(Wind),
        st.sampled_from(POSITIONS),
        st.integers(150, 320).map(float),
    ),
    max_size=12,
)


@given(AMPLITUDES, st.dates(date(2020, 1, 1), date(2031, 1, 1)))
def test_no_evidence_ever_pushes_a_date_back(amplitudes, as_of) -> None:
    found = with_readings(*amplitudes, as_of=str(as_of))
    assert all(now <= was for now, was in zip(days(found), BY_RULE, strict=True))


@given(AMPLITUDES, st.dates(date(2020, 1, 1), date(2031, 1, 1)))
def test_the_evidence_is_that_of_the_independent_reading_of_the_page(amplitudes, as_of) -> None:
    facts = replace(piece(), amplitudes=tuple(amplitudes))
    [ours, _tightness] = due_dates(facts, HOUSE_DEFAULTS, as_of, shelf_months=36)
    trend_day = ours.evidence.on if ours.evidence and ours.evidence.fact is EvidenceFact.TREND else None
    theirs = plain_due(
        {
            "models": [{"reference": "SK-0104", "rated_bar": ""}],
            "pieces": [{"serial": facts.serial, "reference": "SK-0104", "sold_on": "2019-05-17"}],
        },
        as_of,
        readings={
            facts.serial: [PlainReading(one.taken_on, one.wind, one.position, one.degrees) for one in amplitudes]
        },
        trend_days={facts.serial: trend_day} if trend_day else None,
    )
    assert [(row["state"], str(row["opens_on"]), str(row["due_on"]), str(row["closes_on"])) for row in theirs] == [
        (state_on(as_of, ours), *days(ours))
    ]


def test_a_trend_reads_as_a_fall_to_a_day_in_the_desk_s_sentence() -> None:
    reason = because(with_readings(*falling(280, 264, 248, 232), as_of="2023-07-01"), date(2023, 7, 1))
    assert reason.sentence.startswith(
        "Over 4 visits the amplitude at full wind falls by 16.0 degrees a year and reaches the limit of 220 on "
        "1 March 2024, when the overhaul is due; by the rule alone the day is 17 May 2026"
    )


def test_a_reading_counts_until_the_day_of_the_sheet_that_corrects_it() -> None:
    wrong = replace(read("2024-02-01", 184), until=date(2025, 3, 1))
    assert with_readings(wrong, as_of="2025-02-28").evidence is not None
    assert with_readings(wrong, as_of="2025-03-01").evidence is None


@pytest.mark.django_db
def test_a_sheet_in_the_database_is_stored_as_evidence_and_read_back_whole() -> None:
    stored = PieceFactory()
    history(stored, "2022-03-02")
    sheet = TimingSheet.objects.create(piece=stored, taken_on=date(2025, 3, 2))
    Reading.objects.create(sheet=sheet, position="9H", wind="24h", rate=Decimal("4.5"), amplitude=181)
    recompute([stored.pk], as_of=date(2026, 3, 1))
    row = DueDate.objects.get(piece=stored, kind="overhaul")
    assert (row.owed_since, row.due_on) == (date(2025, 3, 2), date(2025, 3, 2))
    [live] = [found for found in queries.due_of(stored, date(2026, 3, 1)) if found.kind is ServiceKind.OVERHAUL]
    assert queries.stored_due(row) == live
    assert state_on(date(2026, 3, 1), queries.stored_due(row)) == "owed"
