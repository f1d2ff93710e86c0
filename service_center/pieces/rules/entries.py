"""What makes sense when something done to a piece is written down. Common practice of the trade."""

from datetime import date

from service_center.book.rules import EntryKind, Tightness

OPENS_THE_CASE = frozenset({EntryKind.OVERHAUL, EntryKind.BATTERY})


def day_refused(done_on: date, *, made_on: date | None, as_of: date) -> str:
    """Why an entry cannot be of that day: "future", "before_making", or empty where it can."""
    if done_on > as_of:
        return "future"
    return "before_making" if made_on and done_on < made_on else ""


def must_open_the_case(kind: EntryKind) -> bool:
    """Nobody overhauls a movement or changes a cell through a closed back."""
    return kind in OPENS_THE_CASE


def leaves_a_test_owed(*, rated: bool, case_opened: bool | None, tightness: Tightness) -> bool:
    """Whether the piece would go back with a tightness test owed at once: opened or failed, and no pass."""
    return rated and tightness is not Tightness.PASSED and (bool(case_opened) or tightness is Tightness.FAILED)
