"""Fernhollow's workshop: who is at its benches, who is away, and when it is closed.

One watchmaker alone does chronographs, for some hours a week, and is away for two weeks of the coming season: fewer hours
than the launch of the Weirgate will ask for, unless its owners are invited earlier.
"""

import random
from datetime import date, timedelta

from service_center.access.models import Staff
from service_center.demo.rules.book import SEED
from service_center.demo.rules.names import ENGLISH, FRENCH, GERMAN, somebody
from service_center.workshop.calendars.actions import add_absence, add_watchmaker, close_workshop, keep_place
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.calendars.rules import AbsenceKind

FULL, FOUR_DAYS, MORNINGS = (450,) * 5 + (0, 0), (450,) * 4 + (0, 0, 0), (240,) * 5 + (0, 0)


def set_up(today: date, *, bench: Staff, by: Staff) -> None:
    """Write down the workshop's place, its watchmakers with their absences, and its closed days."""
    keep_place(country="GB", subdivision="ENG", time_zone="Europe/London", as_of=today, by=by)
    first = _watchmaker(
        bench.first_name, today, years=9, week=FOUR_DAYS, by=by, account=bench,
        skills={"automatic": 25, "chronograph": 25, "complicated": 50},
    )  # fmt: skip
    dice = random.Random(f"{SEED} benches")
    names = [somebody(dice, people, number)["name"] for number, people in enumerate((ENGLISH, GERMAN, FRENCH))]
    second = _watchmaker(names[0], today, years=6, week=FULL, skills={"simple": 25, "automatic": 75}, by=by)
    third = _watchmaker(names[1], today, years=3, week=FULL, skills={"automatic": None}, by=by)
    fourth = _watchmaker(names[2], today, years=1, week=MORNINGS, skills={"simple": None, "automatic": None}, by=by)
    monday = today - timedelta(days=today.weekday())
    _away(first, monday, week=18, days=5, kind=AbsenceKind.TRAINING, by=by)
    _away(first, monday, week=22, days=12, kind=AbsenceKind.LEAVE, by=by)
    _away(second, monday, week=9, days=12, kind=AbsenceKind.LEAVE, by=by)
    _away(third, monday, week=2, days=3, kind=AbsenceKind.OTHER_WORK, by=by)
    _away(third, monday, week=30, days=19, kind=AbsenceKind.LEAVE, by=by)
    _away(fourth, monday, week=1, days=5, kind=AbsenceKind.AWAY, by=by)
    _away(fourth, monday, week=11, days=5, kind=AbsenceKind.LEAVE, by=by)
    eve = date(today.year, 12, 24)
    close_workshop(eve, eve + timedelta(days=9), reason="Between the years", by=by)


def _watchmaker(
    name: str,
    today: date,
    *,
    years: int,
    week: tuple[int, ...],
    skills: dict[str, int | None],
    by: Staff,
    account: Staff | None = None,
) -> Watchmaker:
    first_day = today - timedelta(days=years * 365)
    return add_watchmaker(
        name=name, first_day=first_day, last_day=None, account=account, minutes=week, skills=skills, by=by
    )


def _away(who: Watchmaker, monday: date, *, week: int, days: int, kind: AbsenceKind, by: Staff) -> None:
    first = monday + timedelta(weeks=week)
    add_absence(who, first, first + timedelta(days=days - 1), kind, by=by)
