"""Power reserve: running time from full wind to the stop, against the calibre's nominal. Common practice."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Control(StrEnum):
    """The three times it is measured over a piece's stay, kept apart: each says something else."""

    ON_ARRIVAL = "on_arrival"
    ASSEMBLED = "assembled"  # before casing: a barrel or a click at fault shows here
    FINAL = "final"  # cased, as the owner will wear it


LONGEST_H = Decimal(2_000)  # no reserve in use comes near it
QUESTIONED_SHARE = (Decimal("0.5"), Decimal("1.5"))


@dataclass(frozen=True, slots=True)
class ReserveVerdict:
    """Hours run against the nominal. `short_h` is what is missing, 0 or more; None where no nominal is known."""

    hours: Decimal
    nominal_h: Decimal | None
    short_h: Decimal | None
    within: bool | None


def reserve_verdict(hours: Decimal, nominal_h: Decimal | None) -> ReserveVerdict:
    """The nominal itself is within. ValueError for hours that cannot be."""
    if not hours.is_finite() or not 0 < hours <= LONGEST_H:
        raise ValueError(f"a running time lies above 0 and up to {LONGEST_H:,} hours, not {hours}")
    if nominal_h is None:
        return ReserveVerdict(hours, None, None, None)
    return ReserveVerdict(hours, nominal_h, max(Decimal(0), nominal_h - hours), hours >= nominal_h)


def unlikely_reserve(hours: Decimal, nominal_h: Decimal | None) -> str:
    """Why a running time asks for a second look; empty where it does not."""
    if not nominal_h:
        return ""
    low, high = (share * nominal_h for share in QUESTIONED_SHARE)
    if hours > high:
        return f"{hours:f} h is more than half as long again as the nominal {nominal_h:f} h"
    return f"{hours:f} h is less than half of the nominal {nominal_h:f} h" if hours < low else ""
