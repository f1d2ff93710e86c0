"""Leak flow against hand calculations: limit of ISO 22810:2010, forms named in fixtures/published."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.measurements.rules.tightness import (
    LIMIT_UG_A_MINUTE,
    OutOfOrderError,
    Practice,
    RunOverError,
    TightnessTest,
    WetBeforeDryError,
    leak_flow,
    leak_flow_between,
    next_test,
    plan_for,
)
from tests.outside.published import rows


@pytest.mark.parametrize(
    "row", rows("leak_flows"), ids=lambda row: f"{row['volume_ml']} ml {row['pressure_drop_mbar']}"
)
def test_leak_flow_is_the_one_worked_by_hand(row):
    flow = leak_flow(
        pressure_drop_mbar=float(row["pressure_drop_mbar"]),
        volume_ml=float(row["volume_ml"]),
        minutes=float(row["seconds"]) / 60,
        temperature_c=float(row["kelvin"]) - 273.15,
    )
    assert flow == pytest.approx(float(row["micrograms_a_minute"]), abs=5e-5)
    assert (flow <= LIMIT_UG_A_MINUTE) is (row["within"] == "yes")


@pytest.mark.parametrize(("volume", "drop"), [(1, 42.5057), (2, 21.2528), (3, 14.1686), (5, 8.5011), (10, 4.2506)])
def test_the_limit_in_millibar_a_minute_depends_on_the_free_volume(volume, drop):
    """50 µg/min at 23 °C (design/facts.md, 4)."""
    flow = leak_flow(pressure_drop_mbar=drop, volume_ml=volume, minutes=1, temperature_c=23)
    assert flow == pytest.approx(50, abs=0.002)


def test_a_tenth_of_a_degree_doubles_an_apparent_leak():
    """10 cm³ at 301,325 Pa falls 2.00 mbar in a minute while cooling by 0.1 K: 23.526 apparent, 11.561 in truth."""
    apparent = leak_flow(pressure_drop_mbar=2, volume_ml=10, minutes=1, temperature_c=23)
    corrected = leak_flow_between(
        start_mbar=3013.25, end_mbar=3011.25, start_c=23.0, end_c=22.9, volume_ml=10, minutes=1
    )
    assert apparent == pytest.approx(23.526, abs=5e-4)
    assert corrected == pytest.approx(11.561, abs=5e-4)


def test_the_form_of_40_cfr_1065_644_gives_its_published_flow():
    """2 l from 25.300 to 50.600 kPa in 70 s at 293.15 K: 0.00030 mol/s, here as a flow inwards."""
    flow = leak_flow_between(start_mbar=253, end_mbar=506, start_c=20, end_c=20, volume_ml=2000, minutes=70 / 60)
    moles_a_second = -flow / 60 / 1e9 / 0.0289647
    assert moles_a_second == pytest.approx(2.96570e-4, rel=1e-5)


@given(*(st.floats(0.001, 1000) for _ in range(3)), st.floats(-40, 90))
def test_without_a_change_of_temperature_both_forms_agree(drop, volume, minutes, celsius):
    begin = drop + 1000
    between = leak_flow_between(
        start_mbar=begin, end_mbar=begin - drop, start_c=celsius, end_c=celsius, volume_ml=volume, minutes=minutes
    )
    alone = leak_flow(pressure_drop_mbar=drop, volume_ml=volume, minutes=minutes, temperature_c=celsius)
    assert between == pytest.approx(alone, rel=1e-6, abs=1e-6)


@given(*(st.floats() for _ in range(4)))
def test_any_numbers_give_a_finite_flow_or_a_named_refusal(drop, volume, minutes, celsius):
    try:
        flow = leak_flow(pressure_drop_mbar=drop, volume_ml=volume, minutes=minutes, temperature_c=celsius)
    except ValueError as refused:
        assert str(refused)
    else:
        assert 0 <= flow < float("inf")


# 125 % of the rating is for divers' watches alone: ISO 6425:2018. Water at the mark, 2 bar at least: ISO 22810:2010.
@pytest.mark.parametrize(
    ("rated", "divers", "water", "minutes"),
    [
        (10, True, "12.5", 120),
        (20, True, "25.0", 120),
        (30, True, "37.5", 120),
        (3, False, "3", 10),
        (1, False, "2", 10),
    ],
)
def test_a_divers_watch_is_tested_at_125_percent_and_others_at_their_mark(rated, divers, water, minutes):
    plan = plan_for(rated_bar=Decimal(rated), divers=divers)
    assert [one.test for one in plan] == list(TightnessTest)
    in_water = next(one for one in plan if one.test is TightnessTest.WATER)
    assert (in_water.bar, in_water.minutes) == (Decimal(water), minutes)
    assert in_water.metres == Decimal(water) * 10


def test_a_house_may_test_every_piece_at_125_percent():
    plan = plan_for(rated_bar=Decimal(10), divers=False, practice=Practice(every_piece_at_125=True))
    assert next(one for one in plan if one.test is TightnessTest.WATER).bar == Decimal("12.5")


WHOLE_PLAN = list(TightnessTest)
DRY = [(TightnessTest.LOOK, True), (TightnessTest.DRY_VACUUM, True), (TightnessTest.DRY_PRESSURE, True)]


def test_a_house_may_leave_out_the_vacuum_that_no_standard_asks_for():
    plan = plan_for(rated_bar=Decimal(10), divers=False, practice=Practice(vacuum_first=False))
    assert TightnessTest.DRY_VACUUM not in [one.test for one in plan]


@pytest.mark.parametrize(("divers", "in_water"), [(False, False), (True, True)])
def test_a_house_may_spare_daily_watches_the_water_but_no_divers_watch(divers, in_water):
    """ISO 22810 (after ISO 2281:1990, clauses 4.1 and 4.2): air or water. ISO 6425: water, every watch."""
    plan = plan_for(rated_bar=Decimal(10), divers=divers, practice=Practice(water_for_divers_alone=True))
    assert (TightnessTest.WATER in [one.test for one in plan]) is in_water


def test_air_comes_before_water():
    assert next_test(WHOLE_PLAN, []) is TightnessTest.LOOK
    assert next_test(WHOLE_PLAN, DRY) is TightnessTest.WATER
    assert next_test(WHOLE_PLAN, [*DRY, (TightnessTest.WATER, True)]) is TightnessTest.CONDENSATION
    assert next_test(WHOLE_PLAN, [*DRY, (TightnessTest.WATER, True), (TightnessTest.CONDENSATION, True)]) is None


@pytest.mark.parametrize(
    "results",
    [
        [(TightnessTest.WATER, True)],
        [(TightnessTest.LOOK, True), (TightnessTest.WATER, True)],
        [*DRY[:2], (TightnessTest.DRY_PRESSURE, False), (TightnessTest.WATER, True)],
        [*DRY[:2], (TightnessTest.CONDENSATION, True)],
    ],
)
def test_a_result_in_water_without_passed_dry_tests_is_refused(results):
    with pytest.raises(WetBeforeDryError, match="came before a passed"):
        next_test(WHOLE_PLAN, results)


@given(st.lists(st.tuples(st.sampled_from(TightnessTest), st.booleans()), max_size=8), st.booleans())
def test_no_order_of_results_ever_reaches_water_without_every_dry_test_passed(results, vacuum):
    plan = [one.test for one in plan_for(rated_bar=Decimal(10), divers=True, practice=Practice(vacuum_first=vacuum))]
    try:
        upcoming = next_test(plan, results)
    except OutOfOrderError:
        return
    wet = {TightnessTest.WATER, TightnessTest.CONDENSATION}
    if upcoming in wet or any(test in wet for test, _passed in results):
        assert {test for test, passed in results if passed} >= set(plan) - wet


@pytest.mark.parametrize("failed", TightnessTest)
def test_a_failed_test_ends_the_run(failed):
    before = [(one, True) for one in TightnessTest][: list(TightnessTest).index(failed)]
    assert next_test(WHOLE_PLAN, [*before, (failed, False)]) is None
    with pytest.raises(RunOverError):
        next_test(WHOLE_PLAN, [*before, (failed, False), (failed, True)])


def test_nothing_is_tested_twice_or_out_of_its_order():
    with pytest.raises(OutOfOrderError, match="came where dry_vacuum is next"):
        next_test(WHOLE_PLAN, [DRY[0], DRY[0]])
    with pytest.raises(RunOverError, match="after the last"):
        next_test(WHOLE_PLAN[:1], [DRY[0], DRY[0]])


def test_a_piece_without_a_rating_has_no_plan():
    with pytest.raises(ValueError, match="above 0 bar"):
        plan_for(rated_bar=Decimal(0), divers=False)
