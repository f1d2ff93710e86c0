"""What the page is made of on which an owner chooses a place: the boutique, then the day, then the hour."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from django.http import QueryDict

from service_center.book.models import Boutique, Piece
from service_center.intake.visits.actions import Wish
from service_center.intake.visits.models import Visit
from service_center.intake.visits.queries import FreeDay, booking_days, first_free_days, nearest_free
from service_center.intake.visits.rules import Slot
from service_center.intake.visits.wording import clock, full_day, short_day

# Days to choose from at a time: at least so many, where the boutique has them.
DAYS_AT_ONCE = 6
NEXT_PLACES = 6


@dataclass(frozen=True, slots=True)
class Choosing:
    """An owner who is choosing: what they bring, where they may, and what they have chosen up to now.

    `moving`: the visit that they have already. `missed`: a place that they asked for and did not get.
    """

    pieces: Sequence[Piece]
    boutiques: Sequence[Boutique]
    asked: QueryDict
    moving: Visit | None = None
    missed: Wish | None = None


def context_of(choosing: Choosing, *, today: date, now: datetime) -> dict[str, Any]:
    """What the template shows. A boutique and its first free day are chosen until the owner chooses others."""
    boutique = _boutique(choosing)
    first, last = booking_days(boutique, on=today, now=now)
    since = max(first, min(_day(choosing.asked.get("from")) or first, last))
    wished = _wished_day(choosing)
    days = first_free_days(boutique, since, last, at_least=DAYS_AT_ONCE, moving=choosing.moving)
    chosen = next((one for one in days if one.day == wished), days[0] if days else None)
    until = max((one.day for one in days), default=last)
    return {
        "pieces": choosing.pieces,
        "moving": choosing.moving,
        "boutiques": [
            {"name": str(one), "here": one == boutique, "href": _href(choosing, one)} for one in choosing.boutiques
        ],
        "boutique": boutique,
        "days": [_day_shown(choosing, boutique, one, since=since, chosen=chosen) for one in days],
        "day": chosen.day if chosen else None,
        "full_day": full_day(chosen.day) if chosen else "",
        "since": since,
        "places": [_place(one.slot) for one in chosen.free] if chosen else [],
        "earlier": _href(choosing, boutique) if since > first else "",
        "later": _href(choosing, boutique, since=until + timedelta(days=1)) if until < last else "",
        "next_places": _next_places(choosing, last),
        "form_key": uuid4(),
    }


def _boutique(choosing: Choosing) -> Boutique:
    """The one that was chosen, else where the visit is now, else where a piece was bought, else the first."""
    by_code = {one.code: one for one in choosing.boutiques}
    if choosing.missed:
        return choosing.missed.boutique
    known = [piece.boutique.code for piece in choosing.pieces if piece.boutique]
    if choosing.moving:
        known.insert(0, choosing.moving.boutique.code)
    codes = [choosing.asked.get("boutique", ""), *known]
    return next((by_code[code] for code in codes if code in by_code), choosing.boutiques[0])


def _wished_day(choosing: Choosing) -> date | None:
    """The day that was chosen, else that of the visit which is being moved."""
    if choosing.missed:
        return choosing.missed.day
    return _day(choosing.asked.get("day")) or (choosing.moving.day if choosing.moving else None)


def _day_shown(
    choosing: Choosing, boutique: Boutique, one: FreeDay, *, since: date, chosen: FreeDay | None
) -> dict[str, Any]:
    return {
        "label": short_day(one.day),
        "full": full_day(one.day),
        "here": one == chosen,
        "href": _href(choosing, boutique, day=one.day, since=since) + "#hours",
    }


def _next_places(choosing: Choosing, last: date) -> list[dict[str, str]]:
    """What comes next after a place that somebody else has."""
    if choosing.missed is None:
        return []
    wish = choosing.missed
    slots = nearest_free(wish.boutique, wish.day, wish.at, last=last, at_most=NEXT_PLACES, moving=choosing.moving)
    return [_place(slot) for slot in slots]


def _place(slot: Slot) -> dict[str, str]:
    return {
        "start": f"{slot.day.isoformat()}T{slot.at:%H:%M}",
        "time": clock(slot.at),
        "day": short_day(slot.day),
        "full_day": full_day(slot.day),
    }


def _href(choosing: Choosing, boutique: Boutique, *, day: date | None = None, since: date | None = None) -> str:
    chosen = [("piece", piece.serial) for piece in choosing.pieces] if choosing.moving is None else []
    chosen.append(("boutique", boutique.code))
    if day:
        chosen.append(("day", day.isoformat()))
    if since:
        chosen.append(("from", since.isoformat()))
    return "?" + urlencode(chosen)


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None
