"""The criteria of ISO 3159 on fifteen daily rates. Source: ISO 3159:2009, after design/facts.md, 2 (S4, S6, S12, S13).

Rates in s/d, plus gains. The programme fixes what each day was: 1-2 6H, 3-4 3H, 5-6 9H, 7-8 CB (written FH), 9-10 CH,
all at 23 °C; 11 CH at 8 °C, 12 CH at 23 °C, 13 CH at 38 °C; 14-15 6H at 23 °C. Days 12 and 14 enter no criterion.
Sums are decimal and limits inclusive, so that a boundary value stays on its side. To meet them all makes no piece a
certified chronometer: only an accredited body certifies.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

DAYS = range(1, 16)
TEMPERATURE_STEP = Decimal(30)  # 38 °C less 8 °C
# What each day is: position and temperature in °C.
PROGRAMME: Mapping[int, tuple[str, int]] = {
    **dict.fromkeys((1, 2, 14, 15), ("6H", 23)),
    **dict.fromkeys((3, 4), ("3H", 23)),
    **dict.fromkeys((5, 6), ("9H", 23)),
    **dict.fromkeys((7, 8), ("CB", 23)),
    **dict.fromkeys((9, 10, 12), ("CH", 23)),
    11: ("CH", 8),
    13: ("CH", 38),
}


class Size(StrEnum):
    """Movement size: over 20 mm in diameter (category 1), or up to 20 mm (category 2)."""

    OVER_20 = "over20"
    UP_TO_20 = "up_to_20"


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion on one series. `value` and `within` are None where days are missing: `missing` names them."""

    name: str
    meaning: str
    value: Decimal | None
    low: Decimal | None
    high: Decimal | None
    within: bool | None
    missing: tuple[int, ...]


Rates = Mapping[int, Decimal]


def _mean(values: list[Decimal]) -> Decimal:
    return sum(values, Decimal(0)) / len(values)


def _mean_rate(g: Rates) -> Decimal:
    return _mean([g[day] for day in range(1, 11)])


def _variations(g: Rates) -> list[Decimal]:
    return [abs(g[day] - g[day + 1]) for day in range(1, 11, 2)]


def _mean_variation(g: Rates) -> Decimal:
    return _mean(_variations(g))


def _greatest_variation(g: Rates) -> Decimal:
    return max(_variations(g))


def _vertical_minus_horizontal(g: Rates) -> Decimal:
    """6H minus CH: the limits are not symmetric, so the sign decides."""
    return _mean([g[1], g[2]]) - _mean([g[9], g[10]])


def _greatest_deviation(g: Rates) -> Decimal:
    mean = _mean_rate(g)
    return max(abs(g[day] - mean) for day in range(1, 11))


def _variation_with_temperature(g: Rates) -> Decimal:
    return (g[13] - g[11]) / TEMPERATURE_STEP


def _resumption(g: Rates) -> Decimal:
    """Day 15 alone; 14 only lets the piece settle."""
    return g[15] - _mean([g[1], g[2]])


TEN = tuple(range(1, 11))
# name, meaning, days it needs, formula, limits over 20 mm, limits up to 20 mm
TABLE: tuple[tuple[str, str, tuple[int, ...], Callable[[Rates], Decimal], tuple[str | None, str], tuple[str | None, str]], ...] = (
    ("M", "mean daily rate", TEN, _mean_rate, ("-4", "6"), ("-5", "8")),
    ("V", "mean variation", TEN, _mean_variation, (None, "2.0"), (None, "3.4")),
    ("Vmax", "greatest variation", TEN, _greatest_variation, (None, "5"), (None, "7")),
    ("D", "vertical minus horizontal", (1, 2, 9, 10), _vertical_minus_horizontal, ("-6", "8"), ("-8", "10")),
    ("P", "greatest deviation from the mean", TEN, _greatest_deviation, (None, "10"), (None, "15")),
    ("C", "variation with temperature, a degree", (11, 13), _variation_with_temperature, ("-0.60", "0.60"), ("-0.70", "0.70")),
    ("R", "resumption", (1, 2, 15), _resumption, ("-5", "5"), ("-6", "6")),
)  # fmt: skip


def criteria_of(rates: Rates, size: Size) -> list[Criterion]:
    """The seven criteria, in the standard's order, for rates by day (1 to 15); days may be missing."""
    found = []
    for name, meaning, days, formula, over_20, up_to_20 in TABLE:
        low, high = (None if end is None else Decimal(end) for end in (over_20 if size is Size.OVER_20 else up_to_20))
        missing = tuple(day for day in days if day not in rates)
        value = None if missing else formula(rates)
        within = None if value is None else (low is None or value >= low) and (high is None or value <= high)
        found.append(Criterion(name, meaning, value, low, high, within, missing))
    return found


def all_within(criteria: list[Criterion]) -> bool | None:
    """Whether every criterion is met; None where none fails but some cannot be answered."""
    if any(one.within is False for one in criteria):
        return False
    return None if any(one.within is None for one in criteria) else True


@dataclass(frozen=True, slots=True)
class Unanswerable:
    """A criterion that a timing sheet cannot answer, and which daily rates it would need."""

    name: str
    meaning: str
    days: tuple[int, ...]
    positions: tuple[str, ...]
    degrees: tuple[int, ...]


def answerable_from_a_sheet() -> list[Unanswerable]:
    """What each criterion needs that a sheet from a timing machine lacks: all seven are made of rates over 24 hours.

    A machine's rate is that of a minute. None of the criteria can be read off a sheet, however good it looks.
    """
    found = []
    for name, meaning, days, *_rest in TABLE:
        programme = [PROGRAMME[day] for day in days]
        positions = tuple(dict.fromkeys(position for position, _celsius in programme))
        degrees = tuple(sorted({celsius for _position, celsius in programme}))
        found.append(Unanswerable(name, meaning, days, positions, degrees))
    return found
