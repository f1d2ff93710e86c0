"""When a boutique receives owners. Visits that are booked stay booked whatever is changed here; the page shows them."""

from collections.abc import Iterable, Sequence
from datetime import date

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Boutique
from service_center.intake.visits.models import BoutiqueRegion, Closure, OpenHoliday, OpeningHours
from service_center.intake.visits.rules import Hours, version_of
from service_center.workshop.calendars.public_holidays import regions_of


class ChangedMeanwhile(Exception):  # noqa: N818  # a refusal, named for what was found
    """Somebody else changed the week since it was looked at; nothing was written."""


@transaction.atomic
def keep_hours(boutique: Boutique, week: Sequence[Hours], *, seen: str, by: Staff | None) -> bool:
    """Put a week's opening hours in the place of the old ones. False where they are the same.

    `seen` is the version (rules.version_of) that was on the screen. Raises ChangedMeanwhile.
    """
    Boutique.objects.select_for_update(no_key=True).get(pk=boutique.pk)
    rows = OpeningHours.objects.filter(boutique=boutique)
    before = [Hours(*row) for row in rows.values_list("weekday", "opens", "closes", "places")]
    if version_of(before) != seen:
        raise ChangedMeanwhile
    if version_of(week) == seen:
        return False
    rows.delete()
    OpeningHours.objects.bulk_create(
        OpeningHours(boutique=boutique, weekday=one.weekday, opens=one.opens, closes=one.closes, places=one.places)
        for one in week
    )
    _leave_trail(boutique, "opening_hours", by, before=_told(before), after=_told(week))
    return True


@transaction.atomic
def close_days(boutique: Boutique, first: date, last: date, *, reason: str, by: Staff | None) -> Closure:
    """Close a boutique from a day to a day, both included. The same twice is once."""
    Boutique.objects.select_for_update(no_key=True).get(pk=boutique.pk)
    closure, new = Closure.objects.get_or_create(
        boutique=boutique, first_day=first, last_day=last, defaults={"reason": reason}
    )
    if new:
        _leave_trail(boutique, "close_days", by, after=_days(closure))
    return closure


@transaction.atomic
def reopen(boutique: Boutique, closure: int, *, by: Staff | None) -> bool:
    """Take a closure back. False where it was taken back already."""
    found = Closure.objects.select_for_update(no_key=True).filter(boutique=boutique, pk=closure).first()
    if found is None:
        return False
    _leave_trail(boutique, "reopen_days", by, before=_days(found))
    found.delete()
    return True


@transaction.atomic
def open_on_holiday(boutique: Boutique, day: date, *, opens: bool, by: Staff | None) -> bool:
    """Keep the usual hours on a public holiday, or close on it after all. False where nothing changed."""
    Boutique.objects.select_for_update(no_key=True).get(pk=boutique.pk)
    kept = OpenHoliday.objects.filter(boutique=boutique, day=day)
    if kept.exists() is opens:
        return False
    if opens:
        OpenHoliday.objects.create(boutique=boutique, day=day)
    else:
        kept.delete()
    _leave_trail(boutique, "open_on_holiday", by, after={"day": day.isoformat(), "opens": opens})
    return True


class UnknownRegionError(ValueError):
    """The boutique's country has no region of that code, as far as public holidays are known."""


@transaction.atomic
def set_region(boutique: Boutique, code: str, *, by: Staff | None) -> bool:
    """In which part of its country a boutique lies; empty for none. False where nothing changed.

    Raises UnknownRegionError.
    """
    if code and code not in regions_of(boutique.country):
        raise UnknownRegionError(code)
    Boutique.objects.select_for_update(no_key=True).get(pk=boutique.pk)
    kept = BoutiqueRegion.objects.filter(boutique=boutique).first()
    before = kept.code if kept else ""
    if before == code:
        return False
    if code:
        BoutiqueRegion.objects.update_or_create(boutique=boutique, defaults={"code": code})
    elif kept:
        kept.delete()
    _leave_trail(boutique, "set_region", by, before={"region": before}, after={"region": code})
    return True


def _leave_trail(
    boutique: Boutique, deed: str, by: Staff | None, *, before: object = None, after: object = None
) -> None:
    leave_trail(by=by, deed=deed, subject=f"boutique:{boutique.code}", before=before, after=after)


def _told(week: Iterable[Hours]) -> list[dict[str, object]]:
    return [
        {"weekday": one.weekday, "opens": f"{one.opens:%H:%M}", "closes": f"{one.closes:%H:%M}", "places": one.places}
        for one in sorted(week, key=lambda one: (one.weekday, one.opens))
    ]


def _days(closure: Closure) -> dict[str, str]:
    return {
        "first": closure.first_day.isoformat(),
        "last": closure.last_day.isoformat(),
        "reason": closure.reason,
    }
