"""What a boutique offers on a day: slots in wall time, whatever the clocks do, and which of them are free."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.intake.visits.rules import (
    Closed,
    Hours,
    Slot,
    Taken,
    bookable_days,
    fault_of_hours,
    free_seats,
    hours_on,
    slots_on,
)

LONDON = ZoneInfo("Europe/London")
ZURICH = ZoneInfo("Europe/Zurich")
FRIDAY = date(2026, 6, 12)
WEEKDAYS = [Hours(weekday, time(10), time(12), 2) for weekday in range(5)]


def on(day: date, *, closed: tuple[Closed, ...] = (), holidays: tuple[date, ...] = (), opened: tuple[date, ...] = ()):
    return hours_on(day, WEEKDAYS, closed, public_holidays=holidays, opened=opened)


def wall(slots: list[Slot]) -> list[str]:
    return [f"{slot.at:%H:%M}" for slot in slots]


def utc(slot: Slot) -> str:
    return f"{slot.starts_at:%Y%m%dT%H%MZ}"


def test_a_boutique_is_open_in_its_hours_of_that_weekday() -> None:
    assert on(FRIDAY) == [Hours(4, time(10), time(12), 2)]
    assert on(date(2026, 6, 13)) == []  # a Saturday


def test_a_closure_closes_its_first_and_its_last_day_and_none_beside() -> None:
    holiday = (Closed(date(2026, 6, 10), FRIDAY, "Stocktaking"),)
    open_days = [day for day in range(8, 17) if on(date(2026, 6, day), closed=holiday)]
    assert open_days == [8, 9, 15, 16]


def test_a_public_holiday_closes_unless_the_boutique_opens_on_it() -> None:
    assert on(FRIDAY, holidays=(FRIDAY,)) == []
    assert on(FRIDAY, holidays=(FRIDAY,), opened=(FRIDAY,)) == on(FRIDAY)
    assert on(FRIDAY, closed=(Closed(FRIDAY, FRIDAY, ""),), opened=(FRIDAY,)) == []


def test_slots_follow_each_other_from_each_opening_and_none_lasts_beyond_closing() -> None:
    hours = [Hours(4, time(14, 15), time(15, 30), 1), Hours(4, time(10), time(11, 45), 3)]
    slots = slots_on(FRIDAY, hours, LONDON, 30)
    assert wall(slots) == ["10:00", "10:30", "11:00", "14:15", "14:45"]
    assert [slot.places for slot in slots] == [3, 3, 3, 1, 1]


@pytest.mark.parametrize(
    ("day", "moment"),
    # design/facts.md, 7: 09:30 in Zurich in summer and in winter.
    [(date(2026, 9, 14), "20260914T0730Z"), (date(2026, 1, 14), "20260114T0830Z")],
)
def test_the_same_wall_time_is_another_moment_in_summer(day: date, moment: str) -> None:
    [slot] = slots_on(day, [Hours(day.weekday(), time(9, 30), time(10), 1)], ZURICH, 30)
    assert utc(slot) == moment


def test_a_wall_time_that_clocks_skip_is_no_slot() -> None:
    """In Zurich on 29 March 2026 there is no 02:30 (design/facts.md, 7)."""
    night = [Hours(6, time(1), time(4), 1)]
    assert wall(slots_on(date(2026, 3, 29), night, ZURICH, 30)) == ["01:00", "01:30", "03:00", "03:30"]


def test_of_a_wall_time_that_comes_twice_the_first_is_meant() -> None:
    """In Zurich on 25 October 2026 02:30 is 00:30 and 01:30 in UTC (design/facts.md, 7)."""
    night = [Hours(6, time(2), time(4), 1)]
    slots = slots_on(date(2026, 10, 25), night, ZURICH, 30)
    assert [(f"{slot.at:%H:%M}", utc(slot)) for slot in slots] == [
        ("02:00", "20261025T0000Z"),
        ("02:30", "20261025T0030Z"),
        ("03:00", "20261025T0200Z"),
        ("03:30", "20261025T0230Z"),
    ]


ZONES = [
    "Europe/London",
    "Asia/Tokyo",
    "America/New_York",
    "Australia/Lord_Howe",
    "Africa/Casablanca",
    "America/Santiago",
]
TIMES = st.times(time(0), time(23, 59)).map(lambda at: at.replace(second=0, microsecond=0))
STRETCHES = st.tuples(TIMES, TIMES, st.integers(1, 4)).filter(lambda of: of[0] < of[1])
# Lord Howe moves its clocks by half an hour; every zone here but Tokyo has days that skip or repeat some of it.
DAYS = st.dates(date(2024, 1, 1), date(2032, 12, 31))


@given(zone=st.sampled_from(ZONES), day=DAYS, stretch=STRETCHES, minutes=st.integers(5, 240))
def test_slots_exist_on_the_clock_never_overlap_and_end_by_closing(
    zone: str, day: date, stretch: tuple[time, time, int], minutes: int
) -> None:
    opens, closes, places = stretch
    there = ZoneInfo(zone)
    slots = slots_on(day, [Hours(day.weekday(), opens, closes, places)], there, minutes)
    for slot in slots:
        shown = slot.starts_at.astimezone(there)
        assert (shown.date(), shown.time()) == (day, slot.at)
        assert slot.ends_at - slot.starts_at == timedelta(minutes=minutes)
        assert opens <= slot.at
        assert slot.ends_at <= datetime.combine(day, closes, there).astimezone(UTC)
    for before, after in pairwise(slots):
        assert before.ends_at <= after.starts_at
        assert before.at < after.at


@given(zone=st.sampled_from(ZONES), day=DAYS, stretch=STRETCHES, minutes=st.integers(5, 240))
def test_on_a_day_without_a_change_of_clocks_every_slot_that_fits_is_offered(
    zone: str, day: date, stretch: tuple[time, time, int], minutes: int
) -> None:
    there = ZoneInfo(zone)
    offsets = {
        datetime.combine(day, time(0), there).utcoffset(),
        datetime.combine(day, time(23, 59), there).utcoffset(),
    }
    opens, closes, places = stretch
    open_for = (closes.hour * 60 + closes.minute) - (opens.hour * 60 + opens.minute)
    found = len(slots_on(day, [Hours(day.weekday(), opens, closes, places)], there, minutes))
    assert found <= open_for // minutes
    if len(offsets) == 1:
        assert found == open_for // minutes


SLOT = Slot(FRIDAY, time(10), datetime(2026, 6, 12, 9, tzinfo=UTC), datetime(2026, 6, 12, 9, 30, tzinfo=UTC), places=3)


def taken(seat: int, *, at: str = "09:00", minutes: int = 30) -> Taken:
    start = datetime.combine(FRIDAY, time.fromisoformat(at), UTC)
    return Taken(start, start + timedelta(minutes=minutes), seat)


def test_the_lowest_free_seat_comes_first() -> None:
    assert free_seats(SLOT, []) == (1, 2, 3)
    assert free_seats(SLOT, [taken(1), taken(3)]) == (2,)
    assert free_seats(SLOT, [taken(1), taken(2), taken(3)]) == ()


def test_a_visit_that_reaches_into_a_slot_takes_a_seat_of_it_and_one_that_touches_it_none() -> None:
    assert free_seats(SLOT, [taken(1, at="08:45"), taken(2, at="09:29")]) == (3,)
    assert free_seats(SLOT, [taken(1, at="08:30"), taken(2, at="09:30")]) == (1, 2, 3)


def test_a_boutique_that_has_fewer_places_than_before_keeps_its_visits_and_gives_no_seat_too_many() -> None:
    assert free_seats(SLOT, [taken(2), taken(4), taken(5)]) == ()
    assert free_seats(SLOT, [taken(4)]) == (1, 2)


@given(st.integers(1, 6), st.lists(st.integers(1, 9), unique=True))
def test_no_seat_is_offered_that_somebody_has_nor_more_than_there_are_places(places: int, seats: list[int]) -> None:
    slot = Slot(SLOT.day, SLOT.at, SLOT.starts_at, SLOT.ends_at, places)
    free = free_seats(slot, [taken(seat) for seat in seats])
    assert not set(free) & set(seats)
    assert len(free) + len(seats) <= max(places, len(seats))
    assert list(free) == sorted(free)


def test_hours_must_close_after_they_open_and_must_not_overlap() -> None:
    assert fault_of_hours([Hours(0, time(9), time(12), 1), Hours(0, time(12), time(13), 1)]) == ""
    assert fault_of_hours([Hours(0, time(9), time(12), 1), Hours(1, time(11), time(13), 1)]) == ""
    assert fault_of_hours([Hours(0, time(12), time(13), 1), Hours(0, time(9), time(12, 1), 1)]) == "overlap"
    assert fault_of_hours([Hours(0, time(12), time(12), 1)]) == "order"


def test_a_visit_can_be_booked_from_tomorrow_for_half_a_year() -> None:
    assert bookable_days(date(2026, 6, 5)) == (date(2026, 6, 6), date(2026, 12, 2))
