"""One thing on one day, in words."""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from django.utils import timezone
from django.utils.translation import gettext as _

from service_center.access.models import Staff


class Sort(StrEnum):
    """What somebody who looks for one thing can leave the rest out by."""

    WORK = "work"
    READINGS = "readings"
    LETTERS = "letters"
    HANDS = "hands"
    CORRECTIONS = "corrections"


@dataclass(frozen=True, slots=True)
class Link:
    """Words that lead to another moment of the same timeline, by its anchor."""

    words: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Moment:
    """`rank` orders a day. `letter`, `drop_off`, `entry` and `sheet` are keys of what its links lead to.

    `struck`: a later entry or sheet says that it was otherwise. `to_accept`: work outside that starts nothing yet.
    `recorded`: who wrote it down and when, where that matters. `anchor`: where links to it lead.
    """

    on: date
    rank: int
    what: str
    sorts: frozenset[Sort] = frozenset()
    details: list[str] = field(default_factory=list)
    readings: list[str] = field(default_factory=list)
    note: str = ""
    why: str = ""
    work: bool = False
    state: str = ""
    state_name: str = ""
    letter: int | None = None
    drop_off: int | None = None
    drop_off_number: str = ""
    entry: str = ""
    sheet: int | None = None
    to_accept: bool = False
    struck: bool = False
    link: Link | None = None
    recorded: str = ""
    anchor: str = ""


def day_in_words(day: date) -> str:
    """As the page writes days: 2 Mar 2026."""
    return f"{day.day} {day:%b %Y}"


def name_of(staff: Staff) -> str:
    """A member of staff as others know them."""
    return staff.get_full_name() or staff.username


def recorded_by(by: Staff | None, at: datetime) -> str:
    """Who wrote a thing down, and on which day."""
    day = day_in_words(timezone.localdate(at))
    if by is None:
        return _("written down on %(day)s") % {"day": day}
    return _("written down by %(name)s on %(day)s") % {"name": name_of(by), "day": day}
