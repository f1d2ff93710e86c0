"""Tightness: leak flow from pressure decay, and the order of the tests.

Sources, after design/facts.md, 4: limit 50 micrograms of air a minute at 2 bar overpressure, ISO 22810:2010 (as in the
withdrawn ISO 2281:1990, clause 4.1); 125 % of the rating in water for divers' watches alone, ISO 6425:2018. Metres are
a marking: 10 m stand for 1 bar.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from math import isfinite

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
MOLAR_MASS_OF_AIR = 0.0289647  # kg/mol
ABSOLUTE_ZERO_C = -273.15
LIMIT_UG_A_MINUTE = 50.0
METRES_A_BAR = 10


def leak_flow(*, pressure_drop_mbar: float, volume_ml: float, minutes: float, temperature_c: float) -> float:
    """Air that left a closed volume at one temperature, in micrograms a minute: V M / (R T) dp / dt.

    The free volume between the tester's walls and the case, in millilitres. A tenth of a degree of cooling can double
    an apparent leak: where both temperatures are known, ask `leak_flow_between`. ValueError names what cannot be.
    """
    _at_least_zero("the pressure drop", pressure_drop_mbar)
    kelvin = _kelvin("the temperature", temperature_c)
    moles = _cubic_metres(volume_ml) * pressure_drop_mbar * 100 / (GAS_CONSTANT * kelvin)
    return _a_minute(_micrograms(moles), minutes)


def leak_flow_between(
    *,
    start_mbar: float,
    end_mbar: float,
    start_c: float,
    end_c: float,
    volume_ml: float,
    minutes: float,
) -> float:
    """The same from absolute pressures and temperatures at both ends, after the form of 40 CFR 1065.644.

    Negative where air came in. ValueError names what cannot be.
    """
    begin = _at_least_zero("the start pressure", start_mbar) * 100 / _kelvin("the start temperature", start_c)
    end = _at_least_zero("the end pressure", end_mbar) * 100 / _kelvin("the end temperature", end_c)
    moles = _cubic_metres(volume_ml) / GAS_CONSTANT * (begin - end)
    return _a_minute(_micrograms(moles), minutes)


AMBIENT_MBAR = 1013.25  # common practice: the room's own pressure changes the corrected flow by a few per cent


def decay_flow(
    *,
    pressure_drop_mbar: float,
    overpressure_bar: float,
    volume_ml: float,
    minutes: float,
    start_c: float,
    end_c: float | None,
) -> float:
    """Leak flow of a dry test: at one temperature where only that was read, corrected where both were.

    The overpressure at the start is in bar, below zero for a vacuum. The drop is how far the pressure went back towards
    the room's: a fall under overpressure, a rise under vacuum. ValueError names what cannot be.
    """
    if end_c is None:
        return leak_flow(
            pressure_drop_mbar=pressure_drop_mbar, volume_ml=volume_ml, minutes=minutes, temperature_c=start_c
        )
    towards_the_room = -1 if overpressure_bar < 0 else 1
    start_mbar = AMBIENT_MBAR + overpressure_bar * 1000
    flow = leak_flow_between(
        start_mbar=start_mbar,
        end_mbar=start_mbar - towards_the_room * pressure_drop_mbar,
        start_c=start_c,
        end_c=end_c,
        volume_ml=volume_ml,
        minutes=minutes,
    )
    return towards_the_room * flow


def _cubic_metres(volume_ml: float) -> float:
    return _more_than_zero("the volume", volume_ml) * 1e-6


def _micrograms(moles: float) -> float:
    return moles * MOLAR_MASS_OF_AIR * 1e9


def _a_minute(micrograms: float, minutes: float) -> float:
    flow = micrograms / _more_than_zero("the minutes", minutes)
    if not isfinite(flow):
        raise ValueError("these values give no finite leak flow")
    return flow


def _kelvin(name: str, celsius: float) -> float:
    if not ABSOLUTE_ZERO_C < celsius < 1_000:
        raise ValueError(f"{name} must lie above {ABSOLUTE_ZERO_C} and below 1000 °C, not {celsius}")
    return celsius - ABSOLUTE_ZERO_C


def _more_than_zero(name: str, value: float) -> float:
    if not 0 < value < float("inf"):
        raise ValueError(f"{name} must be more than 0, not {value}")
    return value


def _at_least_zero(name: str, value: float) -> float:
    if not 0 <= value < float("inf"):
        raise ValueError(f"{name} must be 0 or more, not {value}")
    return value


class TightnessTest(StrEnum):
    """The tests of a piece, in the order they are made: what cannot wet a movement comes first."""

    LOOK = "look"  # crown pushed or screwed home, crystal and back whole
    DRY_VACUUM = "dry_vacuum"  # overpressure squeezes gaskets shut, so the opposite load comes before it
    DRY_PRESSURE = "dry_pressure"
    WATER = "water"
    CONDENSATION = "condensation"


IN_AIR = (TightnessTest.DRY_VACUUM, TightnessTest.DRY_PRESSURE)
WET = (TightnessTest.WATER, TightnessTest.CONDENSATION)  # water on the case, or on its warm glass


@dataclass(frozen=True, slots=True)
class Practice:
    """What the house chose. ISO 22810 asks for no vacuum and takes air or water for daily use; ISO 6425 asks water of
    every divers' watch, so that no choice leaves it out there."""

    every_piece_at_125: bool = False
    vacuum_first: bool = True
    water_for_divers_alone: bool = False
    free_volume_ml: Decimal | None = None


HOUSE_PRACTICE = Practice()
VACUUM_BAR = Decimal("-0.7")
DRY_BAR = Decimal(2)


@dataclass(frozen=True, slots=True)
class PlannedTest:
    """One test of a piece: overpressure in bar (below zero: vacuum), and how many minutes it is held."""

    test: TightnessTest
    bar: Decimal | None
    minutes: Decimal | None

    @property
    def metres(self) -> Decimal | None:
        """The overpressure as the marking says it; a static pressure, not a depth to dive to."""
        return None if self.bar is None or self.bar < 0 else self.bar * METRES_A_BAR


def plan_for(*, rated_bar: Decimal, divers: bool, practice: Practice = HOUSE_PRACTICE) -> list[PlannedTest]:
    """The tests of a rated piece in their order.

    ISO 22810: water at the marked pressure, 2 bar at least, 10 minutes. ISO 6425: 125 % of the rating, 2 hours. The
    vacuum of -0.7 bar is common practice; neither standard asks for one.
    """
    if rated_bar <= 0:
        raise ValueError(f"a tightness plan needs a rating above 0 bar, not {rated_bar}")
    at_125 = divers or practice.every_piece_at_125
    water_bar = rated_bar * Decimal("1.25") if at_125 else max(rated_bar, Decimal(2))
    plan = [PlannedTest(TightnessTest.LOOK, None, None)]
    if practice.vacuum_first:
        plan.append(PlannedTest(TightnessTest.DRY_VACUUM, VACUUM_BAR, Decimal(1)))
    plan.append(PlannedTest(TightnessTest.DRY_PRESSURE, DRY_BAR, Decimal(1)))
    if divers or not practice.water_for_divers_alone:
        plan.append(PlannedTest(TightnessTest.WATER, water_bar, Decimal(120 if divers else 10)))
        plan.append(PlannedTest(TightnessTest.CONDENSATION, None, Decimal(1)))
    return plan


class OutOfOrderError(ValueError):
    """A result that the tests before it do not allow."""


class WetBeforeDryError(OutOfOrderError):
    """A result in water without passed dry tests before it is refused: a leak found in air costs a gasket, one found
    in water a movement."""


class RunOverError(OutOfOrderError):
    """A test after a failed or the last one: the piece is mended, and the tests begin again in air."""


def next_test(plan: Sequence[TightnessTest], results: Sequence[tuple[TightnessTest, bool]]) -> TightnessTest | None:
    """The next test of a plan after results in the order they were made; None: all passed, or the last one failed.

    Raises WetBeforeDryError for water before a passed dry test, RunOverError for a test after a failed or the last
    one, and OutOfOrderError for any other that is not the next of the plan.
    """
    left = list(plan)
    failed: TightnessTest | None = None
    for test, passed in results:
        if test in WET and any(one not in WET for one in left):
            raise WetBeforeDryError(f"{test} came before a passed {left[0]}")
        if failed:
            raise RunOverError(f"{test} came after a failed {failed}")
        if not left:
            raise RunOverError(f"{test} came after the last test")
        if test is not left[0]:
            raise OutOfOrderError(f"{test} came where {left[0]} is next")
        if passed:
            left.pop(0)
        else:
            failed = test
    return None if failed or not left else left[0]
