"""The words of the page, the facts of a book that exist on a day, and the calendar."""

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

Row = dict[str, str]
Book = dict[str, list[Row]]


# --- Words -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rule:
    """How many months after the start a kind opens, is due and closes, and for whom."""

    kind: str
    scope: str
    scope_value: str
    use: str
    opens_months: int
    due_months: int
    closes_months: int
    in_force_from: date
    covers_running: bool


@dataclass(frozen=True)
class Dates:
    """Opens, due, closes."""

    opens_on: date
    due_on: date
    closes_on: date


@dataclass(frozen=True)
class Reading:
    """The amplitude of one piece in one position, `full` wound or `24h` after; an unknown amplitude is None."""

    taken_on: date
    wind: str
    position: str
    amplitude: float | None


@dataclass(frozen=True)
class ServiceLimits:
    """A calibre's service limits; as they stand here, the common practice that the page names."""

    vertical_amplitude_24h: float = 190
    amplitude_full_wind: float = 220


COMMON_PRACTICE = ServiceLimits()

# Taken literally: the house defaults carry no day, so they have always been in force.
ALWAYS = date.min
HOUSE_DEFAULTS = [
    Rule("overhaul", "house", "", "any", 72, 84, 96, ALWAYS, covers_running=False),
    Rule("tightness", "house", "", "any", 11, 12, 15, ALWAYS, covers_running=False),
    Rule("tightness", "house", "", "in_water", 5, 6, 9, ALWAYS, covers_running=False),
]

NARROWEST_FIRST = ["piece", "model", "calibre", "house"]

# Dial up and dial down (CB, which a sheet may call FH) lie flat; every other position stands.
HORIZONTAL_POSITIONS = {"CH", "CB", "FH"}


# --- Facts that exist on the as-of date ------------------------------------------------------------------------------


def text(row: Row, column: str) -> str:
    """What the column says; a column that is not there is not known, like an empty one."""
    return (row.get(column) or "").strip()


def day_known(row: Row, column: str, as_of: date) -> date | None:
    """The day in the column, unless it is not known, or is dated after the as-of date and so does not exist yet."""
    written = text(row, column)
    if not written:
        return None
    day = date.fromisoformat(written)
    return day if day <= as_of else None


def done_on(entry: Row) -> date:
    return date.fromisoformat(text(entry, "done_on"))


def history_on(as_of: date, history: Iterable[Row]) -> list[Row]:
    """The entries that are facts on the as-of date: done by then, and not voided by then.

    An entry that voids another is itself an entry like any other. What the page leaves open is decided so: an entry
    once voided stays voided, also when the one that voided it is voided in its turn; the last one says what was done.
    """
    known = [entry for entry in history if day_known(entry, "done_on", as_of)]
    voided = {text(entry, "voids") for entry in known} - {""}
    return [entry for entry in known if text(entry, "entry") not in voided]


# --- Calendar --------------------------------------------------------------------------------------------------------


def add_months(start: date, months: int) -> date:
    """In one step; a day that the target month lacks becomes its last day."""
    months_since_year_zero = start.year * 12 + (start.month - 1) + months
    year = months_since_year_zero // 12
    month = months_since_year_zero % 12 + 1
    _weekday, last_day = monthrange(year, month)
    return date(year, month, min(start.day, last_day))


def dates_by_rule(rule: Rule, start: date) -> Dates:
    return Dates(
        opens_on=add_months(start, rule.opens_months),
        due_on=add_months(start, rule.due_months),
        closes_on=add_months(start, rule.closes_months),
    )
