"""What is asked for at the counter, what stops a drop-off, and which cautions a piece calls for."""

from collections.abc import Collection
from datetime import date
from enum import StrEnum

from service_center.book.rules import EntryKind, Place, Status, Winding


class Asked(StrEnum):
    """What an owner asks for."""

    OVERHAUL = "overhaul"
    CHECK = "check"
    REPAIR = "repair"
    BATTERY = "battery"
    STRAP = "strap"


# What the workshop calls it.
ORDERED = {
    Asked.OVERHAUL: EntryKind.OVERHAUL,
    Asked.CHECK: EntryKind.TIGHTNESS_CHECK,
    Asked.REPAIR: EntryKind.REPAIR,
    Asked.BATTERY: EntryKind.BATTERY,
    Asked.STRAP: EntryKind.STRAP,
}


class Stop(StrEnum):
    """Why a piece is not taken in."""

    LOST = "lost"
    STOLEN = "stolen"
    ALREADY_IN = "already_in"


class Caution(StrEnum):
    """A hazard that the counter or the owner has to know of. Source: design/facts.md, 9."""

    LUMINOUS = "luminous"  # radium or tritium on the dial or hands
    CELL = "cell"
    LOCAL_CODES = "local_codes"  # always the last word


# Paints with radium went out of use in the 1960s, those with tritium around 2000. Common practice; the margin is ours.
LUMINOUS_BEFORE = date(2001, 1, 1)


def stop_for(status: Status, place: Place) -> Stop | None:
    """What stops a piece at the counter: reported lost or stolen first, then that we hold it already."""
    if status is Status.LOST:
        return Stop.LOST
    if status is Status.STOLEN:
        return Stop.STOLEN
    return None if place is Place.OWNER else Stop.ALREADY_IN


def cautions_for(*, made_on: date | None, winding: Winding | None, asked: Collection[Asked] = ()) -> list[Caution]:
    """The cautions of a piece. A piece of unknown age may be old."""
    found = []
    if made_on is None or made_on < LUMINOUS_BEFORE:
        found.append(Caution.LUMINOUS)
    if winding is Winding.QUARTZ or Asked.BATTERY in asked:
        found.append(Caution.CELL)
    return [*found, Caution.LOCAL_CODES]


def number_of(pk: int) -> str:
    """A drop-off's number as it stands on the receipt: R-000123."""
    return f"R-{pk:06d}"


def number_meant(text: str) -> str | None:
    """The number meant by what was typed or scanned (r123, R-000123), or None where it is none."""
    digits = text.strip().upper().removeprefix("R").removeprefix("-")
    is_number = text.strip()[:1].upper() == "R" and digits.isascii() and digits.isdigit() and len(digits) < 15
    return number_of(int(digits)) if is_number else None
