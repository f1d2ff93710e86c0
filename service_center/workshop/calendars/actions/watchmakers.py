"""Watchmakers, their weeks, their skills and their absences.

What was in force on a past day stays: a new week or new skills hold from today at the earliest, but for the first ones,
which hold from the watchmaker's first day.
"""

from collections.abc import Mapping, Sequence
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.rules import Complexity
from service_center.workshop.calendars.actions.refusing import NotKept, must_be_in_order, said, told
from service_center.workshop.calendars.models import Absence, SkillShare, Watchmaker, WeekdayMinutes
from service_center.workshop.calendars.rules import (
    MINUTES_OF_A_DAY,
    WEEK,
    AbsenceKind,
    Days,
    at_once,
    fault_of_shares,
)


@transaction.atomic
def add_watchmaker(
    *,
    name: str,
    first_day: date,
    last_day: date | None,
    account: Staff | None,
    minutes: Sequence[int],
    skills: Mapping[str, int | None],
    by: Staff | None,
) -> Watchmaker:
    """Give somebody a bench from a day on, with the minutes of their seven weekdays and their skills. Raises NotKept."""
    name = _checked(name, first_day, last_day, account, but=None)
    watchmaker = Watchmaker.objects.create(name=name, account=account, first_day=first_day, last_day=last_day)
    _write_week(watchmaker, minutes, first_day)
    _write_skills(watchmaker, skills, first_day)
    after = _about(watchmaker) | {"minutes": list(minutes), "skills": dict(skills)}
    _leave_trail(watchmaker, "add_watchmaker", by, after=after)
    return watchmaker


@transaction.atomic
def change_watchmaker(
    watchmaker: Watchmaker, *, name: str, last_day: date | None, account: Staff | None, by: Staff | None
) -> bool:
    """Correct a name, bind an account, or write down the last day. False where nothing changed. Raises NotKept."""
    watchmaker = _held(watchmaker)
    before = _about(watchmaker)
    watchmaker.name = _checked(name, watchmaker.first_day, last_day, account, but=watchmaker)
    watchmaker.last_day, watchmaker.account = last_day, account
    if _about(watchmaker) == before:
        return False
    watchmaker.save()
    _leave_trail(watchmaker, "change_watchmaker", by, before=before, after=_about(watchmaker))
    return True


@transaction.atomic
def keep_week(watchmaker: Watchmaker, minutes: Sequence[int], *, since: date, as_of: date, by: Staff | None) -> bool:
    """Let a watchmaker's weekdays have these minutes from a day on. False where that day had them so. Raises NotKept."""
    watchmaker = _held(watchmaker)
    _must_be_to_come(watchmaker, since, as_of)
    rows = WeekdayMinutes.objects.filter(watchmaker=watchmaker, in_force_from=since)
    before = list(rows.order_by("weekday").values_list("minutes", flat=True))
    if before == list(minutes):
        return False
    rows.delete()
    _write_week(watchmaker, minutes, since)
    _leave_trail(
        watchmaker, "bench_week", by,
        before={"since": since.isoformat(), "minutes": before} if before else None,
        after={"since": since.isoformat(), "minutes": list(minutes)},
    )  # fmt: skip
    return True


@transaction.atomic
def keep_skills(
    watchmaker: Watchmaker, skills: Mapping[str, int | None], *, since: date, as_of: date, by: Staff | None
) -> bool:
    """Let a watchmaker do these skills from a day on, with these shares of the week in hundredths (None: equal ones).

    False where that day had them so. Raises NotKept.
    """
    watchmaker = _held(watchmaker)
    _must_be_to_come(watchmaker, since, as_of)
    rows = SkillShare.objects.filter(watchmaker=watchmaker, in_force_from=since)
    known = rows.exists()
    before = dict(rows.filter(may=True).values_list("skill", "share"))
    if known and before == dict(skills):
        return False
    rows.delete()
    _write_skills(watchmaker, skills, since)
    _leave_trail(
        watchmaker, "bench_skills", by,
        before={"since": since.isoformat(), "skills": before} if known else None,
        after={"since": since.isoformat(), "skills": dict(skills)},
    )  # fmt: skip
    return True


@transaction.atomic
def add_absence(watchmaker: Watchmaker, first: date, last: date, kind: AbsenceKind, *, by: Staff | None) -> Absence:
    """Write down that a watchmaker is away from a day to a day, both included. The same twice is once. Raises NotKept."""
    watchmaker, days = _held(watchmaker), must_be_in_order(first, last)
    known = {Days(one.first_day, one.last_day): one for one in watchmaker.absences.all()}
    if days in known and known[days].kind == kind:
        return known[days]
    _must_be_here(watchmaker, days)
    other = at_once(days, known)
    if other:
        raise NotKept(
            "first_day",
            _("%(name)s is away from %(first)s to %(last)s already. Take that back first, or write the other days.")
            % {"name": watchmaker.name, "first": said(other.first), "last": said(other.last)},
        )
    absence = Absence.objects.create(watchmaker=watchmaker, first_day=first, last_day=last, kind=kind.value)
    _leave_trail(watchmaker, "absence", by, after=told(days) | {"kind": kind.value})
    return absence


@transaction.atomic
def take_back_absence(watchmaker: Watchmaker, absence: int, *, by: Staff | None) -> bool:
    """A watchmaker is not away after all. False where it was taken back already."""
    found = Absence.objects.filter(watchmaker=_held(watchmaker), pk=absence).first()
    if found is None:
        return False
    before = told(Days(found.first_day, found.last_day)) | {"kind": found.kind}
    _leave_trail(watchmaker, "absence_taken_back", by, before=before)
    found.delete()
    return True


def _held(watchmaker: Watchmaker) -> Watchmaker:
    """The watchmaker as they stand now, locked: two people at one calendar come one after the other."""
    return Watchmaker.objects.select_for_update(no_key=True).get(pk=watchmaker.pk)


def _checked(
    name: str, first_day: date, last_day: date | None, account: Staff | None, *, but: Watchmaker | None
) -> str:
    name = " ".join(name.split())
    if not name:
        raise NotKept("name", _("Write the watchmaker's name."))
    if last_day is not None:
        must_be_in_order(first_day, last_day)
    other = Watchmaker.objects.filter(account=account).first() if account else None
    if other and other != but:
        raise NotKept("account", _("%(name)s signs in with this account already.") % {"name": other.name})
    return name


def _must_be_to_come(watchmaker: Watchmaker, since: date, as_of: date) -> None:
    if since < watchmaker.first_day:
        raise NotKept(
            "since",
            _("%(name)s has a bench from %(day)s on.") % {"name": watchmaker.name, "day": said(watchmaker.first_day)},
        )
    if watchmaker.last_day and since > watchmaker.last_day:
        raise NotKept(
            "since",
            _("%(name)s has a bench until %(day)s.") % {"name": watchmaker.name, "day": said(watchmaker.last_day)},
        )
    if since < as_of:
        raise NotKept("since", _("Past days stay as they were. Choose today or a later day."))


def _must_be_here(watchmaker: Watchmaker, days: Days) -> None:
    if days.last < watchmaker.first_day or (watchmaker.last_day and days.first > watchmaker.last_day):
        raise NotKept("first_day", _("%(name)s has no bench on these days.") % {"name": watchmaker.name})


def _write_week(watchmaker: Watchmaker, minutes: Sequence[int], since: date) -> None:
    if len(minutes) != WEEK:
        raise ValueError(f"a week has seven weekdays, not {len(minutes)}")
    for weekday, number in enumerate(minutes):
        if not 0 <= number <= MINUTES_OF_A_DAY:
            raise NotKept(f"weekday_{weekday}", _("A day has 24 hours at most, and 0 at least."))
    WeekdayMinutes.objects.bulk_create(
        WeekdayMinutes(watchmaker=watchmaker, in_force_from=since, weekday=weekday, minutes=number)
        for weekday, number in enumerate(minutes)
    )


def _write_skills(watchmaker: Watchmaker, skills: Mapping[str, int | None], since: date) -> None:
    for skill, share in skills.items():
        if Complexity(skill) and share is not None and not 0 <= share <= 100:
            raise NotKept(f"share_{skill}", _("A share lies between 0 and 100."))
    fault = fault_of_shares(skills)
    if fault == "some":
        lacking = next(skill for skill, share in skills.items() if share is None)
        raise NotKept(
            f"share_{lacking}", _("Write a share for every skill that is ticked, or for none: then they are equal.")
        )
    if fault == "sum":
        together = sum(share or 0 for share in skills.values())
        raise NotKept(
            f"share_{next(iter(skills))}", _("The shares come to %(n)s; together they are 100.") % {"n": together}
        )
    SkillShare.objects.bulk_create(
        SkillShare(
            watchmaker=watchmaker, in_force_from=since, skill=skill.value, may=skill in skills, share=skills.get(skill)
        )
        for skill in Complexity
    )


def _about(watchmaker: Watchmaker) -> dict[str, object]:
    return {
        "name": watchmaker.name,
        "account": watchmaker.account.username if watchmaker.account else "",
        "first": watchmaker.first_day.isoformat(),
        "last": watchmaker.last_day.isoformat() if watchmaker.last_day else None,
    }


def _leave_trail(
    watchmaker: Watchmaker, deed: str, by: Staff | None, *, before: object = None, after: object = None
) -> None:
    leave_trail(by=by, deed=deed, subject=f"watchmaker:{watchmaker.pk}", before=before, after=after)
