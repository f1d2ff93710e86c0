"""Reading what boutiques offer, and who comes."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.conf import settings
from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Boutique, Owner, Piece
from service_center.intake.models import DropOff
from service_center.intake.visits.models import BoutiqueRegion, Closure, OpenHoliday, OpeningHours, Visit, VisitPiece
from service_center.intake.visits.rules import (
    Closed,
    FreeSlot,
    Hours,
    Slot,
    Taken,
    VisitState,
    bookable_days,
    free_slots,
    hours_on,
    moment_of,
    slots_on,
)
from service_center.letters.calendars import zone_of
from service_center.workshop.calendars.queries import holidays_at

# How far beyond a wish other places are looked for, at a time.
STRIDE = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class FreeDay:
    """A day on which a boutique has free places."""

    day: date
    free: tuple[FreeSlot, ...]


@dataclass(frozen=True, slots=True)
class Opening:
    """All that decides when a boutique receives owners, between two days.

    `worked`: public holidays on which the workshop works; the boutique opens on those of `opened`.
    """

    hours: tuple[Hours, ...]
    closed: tuple[Closed, ...]
    region: str
    public_holidays: dict[date, str]
    opened: frozenset[date]
    worked: frozenset[date] = frozenset()

    def on(self, day: date) -> list[Hours]:
        """The opening hours of one of those days."""
        return hours_on(day, self.hours, self.closed, public_holidays=self.public_holidays, opened=self.opened)


def opening_of(boutique: Boutique, first: date, last: date) -> Opening:
    """A boutique's opening hours between two days, both included. Six statements at most."""
    region = BoutiqueRegion.objects.filter(boutique=boutique).values_list("code", flat=True).first() or ""
    hours = OpeningHours.objects.filter(boutique=boutique).values_list("weekday", "opens", "closes", "places")
    closures = Closure.objects.filter(boutique=boutique, first_day__lte=last, last_day__gte=first)
    opened = OpenHoliday.objects.filter(boutique=boutique, day__gte=first, day__lte=last)
    holidays = holidays_at(boutique.country, region, first, last)
    return Opening(
        hours=tuple(Hours(*row) for row in hours.order_by("weekday", "opens")),
        closed=tuple(Closed(*row) for row in closures.values_list("first_day", "last_day", "reason")),
        region=region,
        public_holidays={day: name for day, name, _worked in holidays},
        opened=frozenset(opened.values_list("day", flat=True)),
        worked=frozenset(day for day, _name, worked in holidays if worked),
    )


def slots_between(boutique: Boutique, first: date, last: date) -> list[Slot]:
    """What a boutique offers between two days, taken or not. Six statements at most."""
    opening, zone = opening_of(boutique, first, last), zone_of(boutique.time_zone)
    days = (first + timedelta(days=number) for number in range((last - first).days + 1))
    return [slot for day in days for slot in slots_on(day, opening.on(day), zone, settings.VISIT_MINUTES)]


def free_days(boutique: Boutique, first: date, last: date, *, moving: Visit | None = None) -> list[FreeDay]:
    """Days with free places between two days, both included. Seven statements at most.

    A visit that is being moved takes no place from itself.
    """
    slots = slots_between(boutique, first, last)
    if not slots:
        return []
    taken = seats_taken(boutique, slots[0].starts_at, slots[-1].ends_at, moving=moving)
    by_day: dict[date, list[FreeSlot]] = {}
    for free in free_slots(slots, taken):
        by_day.setdefault(free.slot.day, []).append(free)
    return [FreeDay(day, tuple(free)) for day, free in by_day.items()]


def first_free_days(
    boutique: Boutique, first: date, last: date, *, at_least: int, moving: Visit | None = None
) -> list[FreeDay]:
    """The first days with free places: two weeks' worth, or as many weeks as it takes for so many days."""
    found: list[FreeDay] = []
    while first <= last and len(found) < at_least:
        until = min(first + STRIDE - timedelta(days=1), last)
        found += free_days(boutique, first, until, moving=moving)
        first = until + timedelta(days=1)
    return found


def booking_days(boutique: Boutique, *, on: date, now: datetime) -> tuple[date, date]:
    """The first and the last day that can be booked. `on`: the owner's day; the boutique's may be another."""
    return bookable_days(max(on, now.astimezone(zone_of(boutique.time_zone)).date()))


def slot_at(boutique: Boutique, day: date, at: time) -> Slot | None:
    """The slot that begins at a wall time of a day, whether its places are free or not. Six statements at most."""
    return next((slot for slot in slots_between(boutique, day, day) if slot.at == at), None)


def seats_taken(boutique: Boutique, since: datetime, until: datetime, *, moving: Visit | None = None) -> list[Taken]:
    """The seats that owners have on the days of two moments. One statement, by index.

    By the day and hour that each owner was told: the moment that is kept is by the zone's rules of when it was booked.
    """
    zone, a_day = zone_of(boutique.time_zone), timedelta(days=1)
    days = (since.astimezone(zone).date() - a_day, until.astimezone(zone).date() + a_day)
    visits = Visit.objects.filter(boutique=boutique, day__range=days)
    if moving is not None:
        visits = visits.exclude(pk=moving.pk)
    rows = visits.exclude(state=VisitState.CANCELLED).values_list("day", "at", "starts_at", "ends_at", "seat")
    return [
        Taken(starts_at := moment_of(day, at, zone), starts_at + (ended - began), seat)
        for day, at, began, ended, seat in rows
    ]


def nearest_free(
    boutique: Boutique, day: date, at: time, *, last: date, at_most: int, moving: Visit | None = None
) -> list[Slot]:
    """The free slots that come next after a wish, to be offered when it was taken."""
    days = first_free_days(boutique, day, last, at_least=3, moving=moving)
    later = [free.slot for one in days for free in one.free if (free.slot.day, free.slot.at) > (day, at)]
    return later[:at_most]


def with_opening_hours(boutiques: Iterable[Boutique]) -> list[Boutique]:
    """Those boutiques that receive owners by the hour, in the order given. One statement."""
    known = list(boutiques)
    keeping = set(OpeningHours.objects.filter(boutique__in=known).values_list("boutique", flat=True))
    return [one for one in known if one.pk in keeping]


def coming_visits(owner: Owner | int, pieces: Collection[Piece | int], now: datetime) -> dict[int, Visit]:
    """An owner's visits that are still to come, by each of these pieces that is brought. Two statements."""
    rows = VisitPiece.objects.filter(
        visit__owner=owner, piece__in=pieces, visit__state=VisitState.BOOKED, visit__starts_at__gt=now
    )
    return {row.piece_id: row.visit for row in rows.select_related("visit__boutique").order_by("visit__starts_at")}


def visits_of(owner: Owner | int, pieces: Collection[int]) -> QuerySet[Visit]:
    """An owner's visits with any of these pieces, cancelled and past ones too."""
    with_them = Exists(VisitPiece.objects.filter(visit=OuterRef("pk"), piece__in=pieces))
    return Visit.objects.filter(with_them, owner=owner).select_related("boutique", "owner", "letter")


def pieces_on(visit: Visit) -> list[Piece]:
    """The pieces that come on a visit, in order of serial; none that is meanwhile somebody else's."""
    coming = Piece.objects.filter(visits__visit=visit, owner=visit.owner_id)
    return list(coming.select_related("model", "boutique").order_by("serial"))


# --- the boutique's side -----------------------------------------------------------------------------


def visits_visible_to(staff: Staff) -> QuerySet[Visit]:
    """All visits for the desk and the manager; for a boutique its own."""
    visits = Visit.objects.select_related("boutique", "owner")
    return visits.filter(boutique__code=staff.boutique) if staff.role == Role.BOUTIQUE else visits


def boutiques_of(staff: Staff) -> QuerySet[Boutique]:
    """The boutiques whose visits a member of staff sees."""
    boutiques = Boutique.objects.order_by("name", "code")
    return boutiques.filter(code=staff.boutique) if staff.role == Role.BOUTIQUE else boutiques


def visits_on(staff: Staff, boutique: Boutique, day: date) -> list[Visit]:
    """Who comes to a boutique on a day, in order of time, with what they bring. Three statements."""
    pieces = VisitPiece.objects.select_related("piece__model").order_by("piece__serial")
    visits = visits_visible_to(staff).filter(boutique=boutique, day=day).exclude(state=VisitState.CANCELLED)
    return list(visits.prefetch_related(Prefetch("coming", queryset=pieces)).order_by("at", "seat"))


def taken_in_on(boutique: Boutique, day: date, pieces: Collection[int]) -> dict[int, DropOff]:
    """What a boutique took in of these pieces on a day, by piece. One statement."""
    return {one.piece_id: one for one in DropOff.objects.filter(boutique=boutique, taken_on=day, piece__in=pieces)}


def days_around(staff: Staff, boutique: Boutique, first: date, last: date) -> dict[date, int]:
    """How many visits a boutique has on each day that has any. One statement."""
    visits = visits_visible_to(staff).filter(boutique=boutique, day__gte=first, day__lte=last)
    found: dict[date, int] = {}
    for day in visits.exclude(state=VisitState.CANCELLED).values_list("day", flat=True).order_by("day"):
        found[day] = found.get(day, 0) + 1
    return found


def closures_of(boutique: Boutique, today: date) -> list[Closure]:
    """A boutique's closures that are not over, in order. One statement."""
    return list(Closure.objects.filter(boutique=boutique, last_day__gte=today).order_by("first_day", "last_day"))


def visits_when_closed(boutique: Boutique, today: date) -> list[Visit]:
    """Booked visits from a day on that no longer fall into opening hours: somebody has to telephone. Seven at most."""
    booked = Visit.objects.filter(boutique=boutique, day__gte=today, state=VisitState.BOOKED)
    visits = list(booked.select_related("owner").order_by("starts_at"))
    if not visits:
        return []
    zone, days = zone_of(boutique.time_zone), [visit.day for visit in visits]
    open_from_to = [(slot.starts_at, slot.ends_at) for slot in slots_between(boutique, min(days), max(days))]
    return [
        visit
        for visit in visits
        if not any(since <= moment_of(visit.day, visit.at, zone) < until for since, until in open_from_to)
    ]
