"""What happened to pieces in Fernhollow's workshop: how far an order got, how long its work took, what was found."""

import math
import random
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from service_center.book.rules import EntryKind
from service_center.guarantee.rules import Finding
from service_center.measurements.rules import HORIZONTAL, POSITIONS, Reading, Wind
from service_center.workshop.parts.rules import PartSort

PAST_STAYS = 56
# Of every twelve past stays.
BROUGHT_FOR = ((EntryKind.OVERHAUL, 9), (EntryKind.REPAIR, 2), (EntryKind.TIGHTNESS_CHECK, 1))
# The month in which half the benches were ill.
FLU = 2


# Standard deviations below which nine of ten lie.
NINE_IN_TEN = 1.2816


class Got(StrEnum):
    """How far an order in the house got."""

    RECEIVED = "received"
    DIAGNOSED = "diagnosed"
    ASKED = "asked"
    DECLINED = "declined"
    ON_THE_BENCH = "on_the_bench"
    RESTING = "resting"
    UNDER_CONTROL = "under_control"
    READY = "ready"
    BACK = "back"


# Of every twenty orders in the workshop.
HOW_FAR = (
    (Got.RECEIVED, 3), (Got.DIAGNOSED, 6), (Got.ASKED, 2), (Got.DECLINED, 1), (Got.ON_THE_BENCH, 4), (Got.RESTING, 1),
    (Got.UNDER_CONTROL, 1), (Got.READY, 1), (Got.BACK, 1),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Found:
    """Something that was found at a piece."""

    finding: Finding
    what: str
    uses: PartSort | None


FOUND = (
    Found(Finding.WEAR, "Case back gasket hard and flat.", PartSort.GASKET),
    Found(Finding.WEAR, "Mainspring set.", PartSort.MAINSPRING),
    Found(Finding.WEAR, "Crown gasket worn; the crown turns loosely.", PartSort.CROWN),
    Found(Finding.ACCIDENT, "Crystal chipped at four o'clock.", PartSort.CRYSTAL),
    Found(Finding.MAGNETISM, "Magnetised; ran two minutes fast.", None),
    Found(Finding.WEAR, "Oils gummed at the third wheel.", None),
)


@dataclass(frozen=True, slots=True)
class Shelf:
    """One part on Fernhollow's shelf: what it fits (a calibre or nothing), how it is ordered, how many lie there."""

    number: str
    name: str
    sort: PartSort
    calibre: str
    pack: int
    delivery_days: int
    on_hand: int


@dataclass(frozen=True, slots=True)
class Ordered:
    """Parts that Fernhollow ordered so many days ago: when they were expected, and how many came, after how many days."""

    number: str
    quantity: int
    days_ago: int
    expected_after: int
    came: int = 0
    came_after: int = 0


# What the desk writes on an estimate, in the language of whoever reads it.
ESTIMATE_LINES = {
    "en": ("Overhaul", "Crown and tube, new"),
    "fr": ("Révision complète", "Couronne et tube, neufs"),
    "de": ("Revision", "Krone und Tubus, neu"),
    "it": ("Revisione", "Corona e tubo, nuovi"),
    "es": ("Revisión completa", "Corona y tubo, nuevos"),
    "ja": ("オーバーホール", "りゅうずとチューブ、新品"),
}

SUPPLIERS = {
    "Alder and Quill": (Ordered("FG-001", 50, 210, 21, 50, 24),),
    "Sennet Springs": (Ordered("FM-030", 20, 76, 60, 5, 61), Ordered("FM-040", 2, 76, 60, 2, 61)),
    "Corrow Crystals": (Ordered("FX-300", 20, 9, 30), Ordered("FC-101", 10, 9, 30)),
}

SHELF = (
    Shelf("FG-001", "Case back gasket", PartSort.GASKET, "", 50, 21, 140),
    Shelf("FG-014", "Crown gasket", PartSort.GASKET, "", 50, 21, 36),
    Shelf("FM-010", "Mainspring FH-10", PartSort.MAINSPRING, "FH-10", 5, 60, 12),
    Shelf("FM-021", "Mainspring FH-21", PartSort.MAINSPRING, "FH-21", 10, 45, 4),
    Shelf("FM-024", "Mainspring FH-24", PartSort.MAINSPRING, "FH-24", 10, 45, 60),
    Shelf("FM-030", "Mainspring FH-30", PartSort.MAINSPRING, "FH-30", 5, 60, 4),
    Shelf("FM-040", "Mainspring FH-40", PartSort.MAINSPRING, "FH-40", 2, 90, 3),
    Shelf("FC-101", "Screw-down crown", PartSort.CROWN, "", 10, 30, 18),
    Shelf("FX-300", "Crystal, flat", PartSort.CRYSTAL, "", 10, 30, 11),
)


def minutes_spent(dice: random.Random, planned: int) -> int:
    """What the work took: mostly near its plan, somewhat longer on the whole, now and then far longer."""
    share = dice.lognormvariate(0.08, 0.2) * (2.5 if dice.random() < 0.04 else 1)
    return max(1, min(24 * 60, round(planned * share)))


def brought_for(dice: random.Random) -> EntryKind:
    """What a piece came for in the past."""
    return dice.choices([kind for kind, _weight in BROUGHT_FOR], [weight for _kind, weight in BROUGHT_FOR])[0]


def days_until_ready(dice: random.Random, came: date, half_by: date, nine_in_ten_by: date) -> int:
    """Days from the counter until the piece was ready: mostly as the counter worked it out, later where people were ill."""
    half, nine = ((day - came).days - 1 for day in (half_by, nine_in_ten_by))  # a day is the way back
    spread = max(0.12, math.log(max(nine, 1) / max(half, 1)) / NINE_IN_TEN)
    middle = min(half, nine / math.exp(NINE_IN_TEN * spread))  # where both days are one, most come well before it
    days = max(middle, 2) * dice.lognormvariate(0, spread)
    return max(2, math.floor(days * (1.3 if came.month == FLU else 1)))


def how_far(dice: random.Random) -> Got:
    """How far one of the orders in the workshop got."""
    steps, weights = zip(*HOW_FAR, strict=True)
    return Got(dice.choices(steps, weights)[0])


def intake_readings(dice: random.Random) -> list[Reading]:
    """A tired movement at the counter, fully wound."""
    rate, amplitude = dice.gauss(-6, 4), dice.gauss(238, 12)
    return [_reading(dice, position, rate, amplitude, 0.5) for position in POSITIONS]


def readings_after(dice: random.Random) -> list[Reading]:
    """The same positions after the work, within the house's limits."""
    rate, amplitude = dice.gauss(2.5, 0.6), dice.gauss(300, 3)
    return [_reading(dice, position, rate, amplitude, 0.15) for position in POSITIONS]


def _reading(dice: random.Random, position: str, rate: float, amplitude: float, beat: float) -> Reading:
    upright = 0 if position in HORIZONTAL else 1
    return Reading(
        position=position,
        wind=Wind.FULL,
        rate=Decimal(f"{dice.gauss(rate - 1.2 * upright, 0.7):.1f}"),
        amplitude=Decimal(f"{dice.gauss(amplitude - 20 * upright, 2):.0f}"),
        beat_error=Decimal(f"{abs(dice.gauss(beat, 0.05)):.2f}"),
    )
