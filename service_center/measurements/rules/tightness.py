"""Tightness: leak flow from pressure decay, and the order of the tests.

Sources, after design/facts.md, 4: limit 50 micrograms of air a minute at 2 bar overpressure, ISO 22810:2010 (as in the
withdrawn ISO 2281:1990, clause 4.1); 125 % of the rating in water for divers' watches alone, ISO 6425:2018. Metres are
a marking: 10 m stand for 1 bar.
"""

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

    LOOK = "look"  # crown pushed or screwed home, glass and back whole
    DRY_VACUUM = "dry_vacuum"  # overpressure squeezes gaskets shut, so the opposite load comes before it
    DRY_PRESSURE = "dry_pressure"
    WATER = "water"
    CONDENSATION = "condensation"


DRY = (TightnessTest.LOOK, TightnessTest.DRY_VACUUM, TightnessTest.DRY_PRESSURE)


@dataclass(frozen=True, slots=True)
class PlannedTest:
    """One test of a piece: overpressure in bar (below zero: vacuum), how long it is held, and what passes."""

    test: TightnessTest
    bar: Decimal | None
    minutes: Decimal | None
    passes: str

    @property
    def metres(self) -> Decimal | None:
        """The overpressure as the marking says it; a static pressure, not a depth to dive to."""
        return None if self.bar is None or self.bar < 0 else self.bar * METRES_A_BAR


def plan_for(*, rated_bar: Decimal, divers: bool, every_piece_at_125: bool = False) -> list[PlannedTest]:
    """The tests of a rated piece in their order. `every_piece_at_125`: the house tests all as divers' watches.

    ISO 22810: water at the marked pressure, 2 bar at least, 10 minutes. ISO 6425: 125 % of the rating, 2 hours. The
    vacuum of -0.7 bar is common practice; neither standard asks for one.
    """
    if rated_bar <= 0:
        raise ValueError(f"a tightness plan needs a rating above 0 bar, not {rated_bar}")
    water_bar = rated_bar * Decimal("1.25") if divers or every_piece_at_125 else max(rated_bar, Decimal(2))
    leak = f"at most {LIMIT_UG_A_MINUTE:.0f} µg of air a minute"
    return [
        PlannedTest(TightnessTest.LOOK, None, None, "crown home, glass and back whole"),
        PlannedTest(TightnessTest.DRY_VACUUM, Decimal("-0.7"), Decimal(1), leak),
        PlannedTest(TightnessTest.DRY_PRESSURE, Decimal(2), Decimal(1), leak),
        PlannedTest(TightnessTest.WATER, water_bar, Decimal(120) if divers else Decimal(10), "no water and no bubbles"),
        PlannedTest(TightnessTest.CONDENSATION, None, Decimal(1), "no fog inside the glass"),
    ]


class WetBeforeDryError(ValueError):
    """A result in water without passed dry tests before it is refused: a leak found in air costs a gasket, one found
    in water a movement."""


def next_test(results: list[tuple[TightnessTest, bool]]) -> TightnessTest | None:
    """The next test after results in the order they were made, or None: all passed, or the last one failed.

    Raises WetBeforeDryError for a result in water, or of condensation, that no passed dry tests came before.
    """
    passed: set[TightnessTest] = set()
    for test, ok in results:
        missing = [dry for dry in DRY if dry not in passed]
        if test not in DRY and missing:
            raise WetBeforeDryError(f"{test} came before a passed {missing[0]}")
        passed = passed | {test} if ok else passed - {test}
    if results and not results[-1][1]:
        return None
    return next((test for test in TightnessTest if test not in passed), None)


def what_next(failed: TightnessTest) -> str:
    """What a failed test asks for."""
    return {
        TightnessTest.LOOK: "Push or screw the crown home, replace what is broken, and look again.",
        TightnessTest.DRY_VACUUM: "Find the leak: gaskets of crown, back, glass and pushers. No water until it passes dry.",
        TightnessTest.DRY_PRESSURE: "Take the movement out, then look for bubbles from the bare case. No water until it passes dry.",
        TightnessTest.WATER: "Open it at once, dry the movement, replace the gaskets, and begin again in air.",
        TightnessTest.CONDENSATION: "Open it at once: there is moisture inside. Dry it, replace the gaskets, begin again in air.",
    }[failed]
