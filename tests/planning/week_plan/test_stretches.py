"""Operations that are done in one go."""

from service_center.planning.rules.week_plan.stretches import Step, days_of, stretches_of
from service_center.planning.rules.week_plan.week import Place
from tests.planning.week_plan.weeks import MONDAY

DAY = 420


def test_an_overhaul_is_parted_by_its_waits_and_its_diagnosis_stands_alone() -> None:
    steps = [
        Step(1, 15, alone=True),
        Step(2, 10),
        Step(3, 35),
        Step(4, 110, wait_hours=24, keeps_bench=True),
        Step(5, 35, keeps_bench=True),
        Step(6, 15, wait_hours=12),
        Step(7, 20, wait_hours=72),
    ]
    found = stretches_of(steps, DAY)
    assert [one.steps for one in found] == [(1,), (2, 3, 4), (5, 6), (7,)]
    assert [one.minutes for one in found] == [15, 155, 50, 20]
    assert [one.wait_days for one in found] == [0, 1, 1, 3]
    assert [one.keeps_bench for one in found] == [False, True, True, False]


def test_a_stretch_ends_before_half_a_day_is_over() -> None:
    assert [one.steps for one in stretches_of([Step(1, 140), Step(2, 90), Step(3, 45)], DAY)] == [(1, 2), (3,)]


def test_an_operation_longer_than_a_day_goes_over_several() -> None:
    found = stretches_of([Step(1, 561, wait_hours=24, keeps_bench=True)], DAY)
    assert [(one.minutes, one.part, one.parts, one.wait_days) for one in found] == [(280, 1, 2, 0), (281, 2, 2, 1)]


def test_what_the_desk_fixed_stays_together_and_apart_from_the_rest() -> None:
    there = (Place(1, MONDAY),)
    found = stretches_of([Step(1, 10), Step(2, 10, fixed=there), Step(3, 10, fixed=there), Step(4, 10)], DAY)
    assert [(one.steps, one.fixed) for one in found] == [((1,), None), ((2, 3), there[0]), ((4,), None)]


def test_a_wait_of_hours_is_over_the_next_morning() -> None:
    assert [days_of(hours) for hours in (0, 12, 24, 25, 72)] == [0, 1, 1, 2, 3]
