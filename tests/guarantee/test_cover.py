"""Every boundary day of the guarantees.

Months: Regulation (EEC, Euratom) No 1182/71, Article 3(2)(c); moved last days: Article 3(4). The worked dates are those
of design/facts.md, 5 and 6 (made by hand and by a calendar there, not by this code). Base 24, extension 96 and work 24
months are common practice.
"""

import json
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from service_center.book.rules import DoneBy, EntryKind
from service_center.guarantee.rules import CoveredBy, Reason, Work, cover, from_record


def day(text):
    return date.fromisoformat(text) if text else None


def decide(sold, as_of, *, enrolled=None, history=(), worked=lambda _day: True):
    return cover(
        sold_on=day(sold),
        extension_enrolled_on=day(enrolled),
        history=history,
        as_of=day(as_of),
        is_working_day=worked,
    )


def done(text, kind=EntryKind.OVERHAUL, *, opened=True, by=DoneBy.OWN):
    return Work(day(text), kind, opened, by)


@pytest.mark.parametrize(
    ("sold", "base_ends", "extended_ends"),
    [("2021-11-30", "2023-11-30", "2029-11-30"), ("2024-02-29", "2026-02-28", "2032-02-29")],
)
def test_base_and_extension_are_each_counted_in_one_step_from_the_day_of_sale(sold, base_ends, extended_ends):
    decision = decide(sold, base_ends, enrolled=base_ends)
    assert decision.of(CoveredBy.BASE).to_on == day(base_ends)
    assert decision.of(CoveredBy.EXTENSION).to_on == day(extended_ends)


@pytest.mark.parametrize(
    ("as_of", "covered_by", "reason"),
    [
        ("2021-11-29", CoveredBy.NONE, Reason.NO_SALE_DATE),  # before the sale it is not known
        ("2021-11-30", CoveredBy.BASE, Reason.BASE_RUNS),
        ("2023-11-30", CoveredBy.BASE, Reason.BASE_RUNS),  # the last day of the base
        ("2023-12-01", CoveredBy.EXTENSION, Reason.EXTENSION_RUNS),  # the first of the extension
        ("2029-11-30", CoveredBy.EXTENSION, Reason.EXTENSION_RUNS),  # its last
        ("2029-12-01", CoveredBy.NONE, Reason.EXTENSION_OVER),
    ],
)
def test_each_boundary_day_of_an_extended_guarantee(as_of, covered_by, reason):
    decision = decide("2021-11-30", as_of, enrolled="2023-11-30")
    assert (decision.covered_by, decision.reason) == (covered_by, reason)


def test_the_extension_begins_the_day_after_the_base_ends():
    decision = decide("2024-02-29", "2026-03-01", enrolled="2024-03-05")
    assert decision.covered_by is CoveredBy.EXTENSION
    assert decision.cover.from_on == date(2026, 3, 1)
    assert decide("2024-02-29", "2026-02-28", enrolled="2024-03-05").covered_by is CoveredBy.BASE
    assert decide("2024-02-29", "2032-02-29", enrolled="2024-03-05").covered_by is CoveredBy.EXTENSION
    assert decide("2024-02-29", "2032-03-01", enrolled="2024-03-05").covered_by is CoveredBy.NONE


@pytest.mark.parametrize(
    ("enrolled", "reason"),
    [
        ("2021-11-30", Reason.EXTENSION_RUNS),  # on the day of sale
        ("2023-11-30", Reason.EXTENSION_RUNS),  # the last day of the base is in time
        ("2023-12-01", Reason.ENROLLED_LATE),
        ("2021-11-29", Reason.ENROLLED_BEFORE_SALE),
        (None, Reason.NOT_EXTENDED),
        ("2024-06-02", Reason.NOT_EXTENDED),  # after the day that is asked about
    ],
)
def test_who_enrols_while_the_base_runs_is_extended(enrolled, reason):
    assert decide("2021-11-30", "2024-06-01", enrolled=enrolled).reason is reason


def test_a_piece_without_a_day_of_sale_is_covered_by_nothing_that_counts_from_it():
    decision = decide(None, "2026-03-02", enrolled="2025-01-01")
    assert (decision.covered_by, decision.reason) == (CoveredBy.NONE, Reason.NO_SALE_DATE)
    assert decision.covers == ()


def test_the_last_day_to_enrol_is_named_while_the_base_runs_and_nobody_has():
    assert decide("2024-02-29", "2026-02-28").enrol_by == date(2026, 2, 28)
    assert decide("2024-02-29", "2026-03-01").enrol_by is None
    assert decide("2024-02-29", "2026-02-28", enrolled="2026-02-28").enrol_by is None


@pytest.mark.parametrize(
    ("as_of", "covered_by"),
    [
        ("2024-02-28", CoveredBy.NONE),  # not done yet
        ("2024-02-29", CoveredBy.WORK),
        ("2026-02-28", CoveredBy.WORK),
        ("2026-03-01", CoveredBy.NONE),
    ],
)
def test_our_own_work_is_covered_for_24_months_its_last_day_included(as_of, covered_by):
    assert decide("2010-05-01", as_of, history=[done("2024-02-29")]).covered_by is covered_by


def test_the_latest_of_our_own_work_counts():
    decision = decide("2010-05-01", "2026-06-01", history=[done("2025-01-10"), done("2023-01-10")])
    assert decision.cover.from_on == date(2025, 1, 10)


@pytest.mark.parametrize(
    ("work", "carries"),
    [
        (done("2025-01-10", EntryKind.REPAIR), True),
        (done("2025-01-10", EntryKind.BATTERY), True),
        (done("2025-01-10", EntryKind.TIGHTNESS_CHECK, opened=True), True),
        (done("2025-01-10", EntryKind.TIGHTNESS_CHECK, opened=False), False),
        (done("2025-01-10", EntryKind.STRAP, opened=False), False),
        (done("2025-01-10", EntryKind.OVERHAUL, by=DoneBy.OUTSIDE), False),
    ],
)
def test_only_our_own_work_on_the_piece_carries_a_guarantee(work, carries):
    assert (decide("2010-05-01", "2025-06-01", history=[work]).covered_by is CoveredBy.WORK) is carries


def test_the_base_pays_before_our_work_and_our_work_before_the_extension():
    worked = [done("2023-06-01")]
    assert decide("2021-11-30", "2023-11-30", enrolled="2022-01-01", history=worked).covered_by is CoveredBy.BASE
    assert decide("2021-11-30", "2023-12-01", enrolled="2022-01-01", history=worked).covered_by is CoveredBy.WORK
    assert decide("2021-11-30", "2025-06-02", enrolled="2022-01-01", history=worked).covered_by is CoveredBy.EXTENSION


# design/facts.md, 5, after Article 3(4): 2024-02-29 + 2 y ends on a Saturday; 2023-12-25 + 2 y on a public holiday
# with another and a weekend behind it; 2024-05-01 + 2 y on a Friday that is a holiday.
@pytest.mark.parametrize(
    ("sold", "free", "ends", "moved_to"),
    [
        ("2024-02-29", (), "2026-02-28", "2026-03-02"),
        ("2023-12-25", ("2025-12-25", "2025-12-26"), "2025-12-25", "2025-12-29"),
        ("2024-05-01", ("2026-05-01",), "2026-05-01", "2026-05-04"),
        ("2024-03-04", (), "2026-03-04", "2026-03-04"),
    ],
)
def test_a_last_day_that_is_no_working_day_is_shown_with_the_next_one_beside(sold, free, ends, moved_to):
    def worked(one):
        return one.weekday() < 5 and one.isoformat() not in free

    base = decide(sold, ends, worked=worked).of(CoveredBy.BASE)
    assert (base.to_on, base.moved_to) == (day(ends), day(moved_to))
    after = decide(sold, moved_to, worked=worked)
    if moved_to != ends:
        assert after.covered_by is CoveredBy.NONE
        assert after.perhaps == base
    the_day_after = decide(sold, str(day(moved_to) + timedelta(days=1)), worked=worked)
    assert the_day_after.perhaps is None


days = st.dates(date(1995, 1, 1), date(2060, 12, 31))
work = st.builds(Work, days, st.sampled_from(EntryKind), st.booleans(), st.sampled_from(DoneBy))
facts = st.fixed_dictionaries(
    {
        "sold_on": st.none() | days,
        "extension_enrolled_on": st.none() | days,
        "history": st.lists(work, max_size=5),
        "as_of": days,
    }
)


@given(facts)
def test_a_decision_kept_as_json_comes_back_as_it_was(known):
    decision = cover(**known, is_working_day=lambda one: one.weekday() < 5)
    assert from_record(json.loads(json.dumps(decision.record()))) == decision


@given(facts)
def test_an_independent_calendar_gives_the_same_cover(known):
    sold, enrolled, as_of = known["sold_on"], known["extension_enrolled_on"], known["as_of"]
    known_sale = sold is not None and sold <= as_of
    base_end = sold + relativedelta(months=24) if known_sale else None
    extended = known_sale and enrolled is not None and enrolled <= as_of and sold <= enrolled <= base_end
    runs = {CoveredBy.BASE: known_sale and as_of <= base_end}
    runs[CoveredBy.EXTENSION] = extended and base_end < as_of <= sold + relativedelta(months=96)
    runs[CoveredBy.WORK] = any(
        one.carries_guarantee and one.done_on <= as_of <= one.done_on + relativedelta(months=24)
        for one in known["history"]
    )
    first = next((by for by in (CoveredBy.BASE, CoveredBy.WORK, CoveredBy.EXTENSION) if runs[by]), CoveredBy.NONE)
    assert cover(**known, is_working_day=lambda _day: True).covered_by is first
