"""The demo's told readings: each course is the evidence it is meant to show."""

import random
from datetime import date, timedelta

import pytest

from service_center.book.rules import DoneBy, EntryKind
from service_center.demo.rules.sheets import Course, Visit, sheets_of_a_course, takes_a_course
from service_center.intervals.rules import Amplitude, Due, EvidenceFact
from tests.intervals.facts import due, piece

SOLD = date(2022, 3, 1)


def visits(count: int, every: int) -> list[Visit]:
    days = [SOLD + timedelta(days=every * number) for number in range(1, count + 1)]
    return [Visit(f"E{day}", EntryKind.TIGHTNESS_CHECK, DoneBy.OWN, day, SOLD) for day in days]


def overhaul_after(course: Course, seed: int, told: list[Visit]) -> Due:
    amplitudes = tuple(
        Amplitude(visit.done_on, one.wind, one.position, float(one.amplitude or 0))
        for visit, readings in sheets_of_a_course(random.Random(seed), told, course)
        for one in readings
    )
    facts = piece(sold=SOLD.isoformat(), amplitudes=amplitudes)
    return due(facts, "overhaul", told[-1].done_on.isoformat())


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("told", [visits(4, 390), visits(8, 190)], ids=["yearly", "half-yearly"])
def test_each_course_shows_what_it_is_called(seed: int, told: list[Visit]) -> None:
    assert takes_a_course(told)
    falling, wavering, short = (overhaul_after(course, seed, told).evidence for course in Course)
    assert falling is not None
    assert falling.fact is EvidenceFact.TREND
    assert wavering is None
    assert short is not None
    assert (short.fact, short.on) == (EvidenceFact.READING, told[-1].done_on)


def test_a_piece_that_came_seldom_late_or_to_somebody_else_takes_no_course() -> None:
    assert not takes_a_course(visits(3, 300))
    assert not takes_a_course(visits(5, 365))
    elsewhere = Visit("E9", EntryKind.REPAIR, DoneBy.OUTSIDE, date(2025, 1, 1), SOLD)
    assert not takes_a_course([*visits(4, 190), elsewhere])
