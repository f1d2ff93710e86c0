"""How an owner's answer to an estimate reaches the house, and until when it can be given."""

from datetime import date
from enum import StrEnum


class Heard(StrEnum):
    """Where the owner said it."""

    PAGE = "page"  # behind their letter's link
    COUNTER = "counter"
    TELEPHONE = "telephone"
    PAPER = "paper"


def is_valid(valid_until: date, as_of: date) -> bool:
    """Whether an estimate can still be agreed to: its last day is included."""
    return as_of <= valid_until
