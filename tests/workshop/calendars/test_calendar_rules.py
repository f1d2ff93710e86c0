"""Minutes of a watchmaker's day, and hours by week and skill: what must hold of every calendar."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.workshop.calendars.rules import (
    Bench,
    Days,
    SkillsFrom,
    StandingStill,
    WeekFrom,
    at_once,
    fault_of_shares,
    hours_by_week_and_skill,
    is_worked,
    minutes_by_day,
    minutes_by_week,
    minutes_on,
    shares_of,
    shares_on,
)

MONDAY = date(2026, 11, 30)
FIVE_DAYS = (480, 480, 480, 480, 360, 0, 0)
OPEN = StandingStill()


def bench(**changes: object) -> Bench:
    """A watchmaker of five days, in the house for long, for simple and automatic calibres in equal shares."""
    usual = Bench(
        1, "Ada Ashwick", date(2020, 1, 6), None, (WeekFrom(date(2020, 1, 6), FIVE_DAYS),),
        (SkillsFrom(date(2020, 1, 6), {"simple": 0.5, "automatic": 0.5}),),
    )  # fmt: skip
    return replace(usual, **changes)  # type: ignore[arg-type]


days = st.dates(MONDAY - timedelta(days=60), MONDAY + timedelta(days=120))
stretches = st.builds(lambda first, length: Days(first, first + timedelta(days=length)), days, st.integers(0, 30))
weeks_from = st.builds(WeekFrom, days, st.tuples(*[st.integers(0, 1440)] * 7))
shares = st.lists(st.sampled_from(["simple", "automatic", "chronograph"]), min_size=1, max_size=3, unique=True).map(
    lambda skills: shares_of(dict.fromkeys(skills))
)
benches = st.builds(
    Bench,
    st.just(1),
    st.just("Ada Ashwick"),
    days,
    st.none() | days,
    st.lists(weeks_from, max_size=3, unique_by=lambda one: one.since).map(
        lambda some: tuple(sorted(some, key=lambda one: one.since))
    ),
    st.builds(SkillsFrom, st.just(date(2020, 1, 6)), shares).map(lambda one: (one,)),
    st.lists(stretches, max_size=2).map(tuple),
)
stills = st.builds(StandingStill, st.lists(stretches, max_size=2).map(tuple), st.frozensets(days, max_size=4))


def test_a_week_in_force_gives_each_weekday_its_minutes() -> None:
    assert minutes_by_day(bench(), OPEN, MONDAY, 7) == list(FIVE_DAYS)


def test_a_week_is_in_force_until_the_next_and_the_past_stays_as_it_was() -> None:
    later = WeekFrom(MONDAY + timedelta(days=2), (0, 240, 240, 240, 0, 0, 0))
    both = bench(weeks=(*bench().weeks, later))

    assert minutes_by_day(both, OPEN, MONDAY, 7) == [480, 480, 240, 240, 0, 0, 0]
    assert minutes_by_day(both, OPEN, MONDAY - timedelta(days=7), 7) == list(FIVE_DAYS)


def test_before_the_first_day_and_after_the_last_there_are_no_minutes() -> None:
    short = bench(first_day=MONDAY + timedelta(days=1), last_day=MONDAY + timedelta(days=2))

    assert minutes_by_day(short, OPEN, MONDAY, 7) == [0, 480, 480, 0, 0, 0, 0]


def test_absence_closure_and_holiday_each_take_their_days() -> None:
    away = bench(absences=(Days(MONDAY, MONDAY),))
    still = StandingStill((Days(MONDAY + timedelta(days=1), MONDAY + timedelta(days=1)),), {MONDAY + timedelta(days=4)})

    assert minutes_by_day(away, still, MONDAY, 7) == [0, 0, 480, 480, 0, 0, 0]


def test_hours_of_a_week_are_shared_out_to_the_skills() -> None:
    one = bench(skills=(SkillsFrom(date(2020, 1, 6), shares_of({"simple": 25, "chronograph": 75})),))

    assert hours_by_week_and_skill([one, bench(id=2)], OPEN, MONDAY, 1) == {
        "simple": [38 * 0.25 + 19],
        "chronograph": [38 * 0.75],
        "automatic": [19],
    }


def test_a_skill_learnt_from_a_day_on_counts_from_that_day() -> None:
    learnt = SkillsFrom(MONDAY + timedelta(days=9), {"chronograph": 1.0})  # Wednesday of the second week
    one = bench(skills=(*bench().skills, learnt))

    found = hours_by_week_and_skill([one], OPEN, MONDAY, 3)

    assert found["chronograph"] == [0, 22, 38]
    assert found["simple"] == [19, 8, 0]


@given(benches, stills, days, stretches)
def test_a_day_off_never_adds(one: Bench, still: StandingStill, day: date, off: Days) -> None:
    before = minutes_on(one, still, day)

    assert minutes_on(replace(one, absences=(*one.absences, off)), still, day) <= before
    assert minutes_on(one, replace(still, closures=(*still.closures, off)), day) <= before
    assert minutes_on(one, replace(still, holidays={*still.holidays, off.first}), day) <= before


@given(benches, stills, days, st.integers(0, 90))
def test_many_days_at_once_are_the_same_as_each_of_them(
    one: Bench, still: StandingStill, first: date, many: int
) -> None:
    each = [minutes_on(one, still, first + timedelta(days=number)) for number in range(many)]

    assert minutes_by_day(one, still, first, many) == each


@given(benches, stills, st.integers(1, 15))
def test_weeks_sum_to_days_and_skills_to_weeks(one: Bench, still: StandingStill, weeks: int) -> None:
    by_day = minutes_by_day(one, still, MONDAY, weeks * 7)
    by_week = minutes_by_week(one, still, MONDAY, weeks)
    by_skill = hours_by_week_and_skill([one], still, MONDAY, weeks)

    assert sum(by_week) == sum(by_day)
    assert all(0 <= minutes <= 1440 for minutes in by_day)
    for week in range(weeks):
        assert sum(row[week] for row in by_skill.values()) * 60 == pytest.approx(by_week[week])


@given(benches, stills, days)
def test_who_is_at_a_bench_is_there_on_a_worked_day(one: Bench, still: StandingStill, day: date) -> None:
    if minutes_on(one, still, day):
        assert is_worked([one], still, day)


def test_a_house_without_benches_works_from_monday_to_friday_but_on_days_when_it_stands_still() -> None:
    assert [is_worked([], OPEN, MONDAY + timedelta(days=number)) for number in range(7)] == [True] * 5 + [False] * 2
    assert not is_worked([], StandingStill(holidays={MONDAY}), MONDAY)


def test_one_persons_leave_does_not_close_the_workshop() -> None:
    assert is_worked([bench(absences=(Days(MONDAY, MONDAY),))], OPEN, MONDAY)


def test_shares_are_equal_unless_the_house_decides_otherwise() -> None:
    assert shares_of({"simple": None, "automatic": None}) == {"simple": 0.5, "automatic": 0.5}
    assert shares_of({"simple": 30, "automatic": 70}) == {"simple": 0.3, "automatic": 0.7}
    assert shares_of({"simple": 100, "automatic": 0}) == {"simple": 1.0, "automatic": 0.0}
    assert shares_of({}) == {}
    assert shares_on(bench(), date(2019, 1, 1)) == {}


@pytest.mark.parametrize(
    ("asked", "fault"),
    [
        ({}, ""),
        ({"simple": None, "automatic": None}, ""),
        ({"simple": 40, "automatic": 60}, ""),
        ({"simple": 40, "automatic": None}, "some"),
        ({"simple": 40, "automatic": 50}, "sum"),
    ],
)
def test_shares_make_a_whole_week(asked: dict[str, int | None], fault: str) -> None:
    assert fault_of_shares(asked) == fault


def test_days_that_meet_are_found_earliest_first() -> None:
    first, second = Days(MONDAY, MONDAY), Days(MONDAY + timedelta(days=1), MONDAY + timedelta(days=3))

    assert at_once(Days(MONDAY, MONDAY + timedelta(days=9)), [second, first]) == first
    assert at_once(Days(MONDAY + timedelta(days=3), MONDAY + timedelta(days=4)), [first, second]) == second
    assert at_once(Days(MONDAY + timedelta(days=4), MONDAY + timedelta(days=4)), [first, second]) is None
