"""What a what-if asks for, put together with the workshop's calendar."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from service_center.planning.rules.weeks import week_at
from service_center.planning.rules.what_if import WhatIf
from service_center.workshop.calendars import rules
from service_center.workshop.calendars.queries import standing_still

WORKED_A_WEEK = 5


def what_if_of(about: Mapping[str, Any], first: date, weeks: int) -> WhatIf:
    """From what the desk typed: `skills`, `hours_a_week` and `from` of another watchmaker, `closed` (a day of the week),
    `answers_percent`; each may be missing. Four statements at most.

    The watchmaker works Monday to Friday, and keeps the workshop's closures and holidays; each skill gets its equal share.
    """
    closed = about.get("closed")
    return WhatIf(
        more_hours=_more_hours(about, first, weeks),
        closed=week_at(date.fromisoformat(closed), first) if closed else None,
        answers=float(about.get("answers_percent") or 100) / 100,
    )


def _more_hours(about: Mapping[str, Any], first: date, weeks: int) -> dict[str, list[float]]:
    if not about.get("skills"):
        return {}
    since = date.fromisoformat(about["from"])
    minutes = round(float(about["hours_a_week"]) * 60 / WORKED_A_WEEK)
    bench = rules.Bench(
        id=0, name="", first_day=since, last_day=None,
        weeks=(rules.WeekFrom(since, (minutes,) * WORKED_A_WEEK + (0, 0)),),
        skills=(rules.SkillsFrom(since, rules.shares_of(dict.fromkeys(about["skills"]))),),
    )  # fmt: skip
    still = standing_still(first, first + timedelta(days=7 * weeks - 1))
    return rules.hours_by_week_and_skill([bench], still, first, weeks)
