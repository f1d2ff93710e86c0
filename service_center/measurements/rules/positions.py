"""Test positions and their symbols. Source: ISO 3158:1976.

CH is dial up, CB dial down (ISO 3159 writes FH for the same position). A vertical symbol names the dial
hour that points up; where the crown then points follows from where it sits, so the symbol is what is kept.
"""

from enum import StrEnum

HORIZONTAL = ("CH", "CB")
VERTICAL = ("3H", "6H", "9H", "12H")
POSITIONS = HORIZONTAL + VERTICAL

SAME_POSITION = {"FH": "CB"}


class Wind(StrEnum):
    """How far the mainspring has run down when a reading is taken."""

    FULL = "full"
    AFTER_24H = "24h"
    END = "end"  # the end of the reserve


def position_of(text: str) -> str | None:
    """The symbol meant by what was written (any case, FH taken as CB), or None where it is no position."""
    symbol = text.strip().upper()
    symbol = SAME_POSITION.get(symbol, symbol)
    return symbol if symbol in POSITIONS else None


def crown_angle(position: str, crown_at: int) -> int:
    """Where the crown points in a vertical position, seen on the dial: degrees clockwise from the top, 0 to 330.

    `crown_at` is the dial hour where the crown sits, 1 to 12. ValueError for a horizontal position.
    """
    if position not in VERTICAL:
        raise ValueError(f"{position} is not a vertical position: the crown has no direction in it")
    return (crown_at - int(position.removesuffix("H"))) % 12 * 30


def crown_direction(position: str, crown_at: int = 3) -> str:
    """The position in the words of the bench: dial up, dial down, crown up, right, down, left, or between two."""
    if position in HORIZONTAL:
        return "dial up" if position == "CH" else "dial down"
    angle = crown_angle(position, crown_at)
    quarters = ("up", "right", "down", "left")
    quarter, rest = divmod(angle, 90)
    if not rest:
        return f"crown {quarters[quarter]}"
    return f"crown between {quarters[quarter]} and {quarters[(quarter + 1) % 4]}"
