"""A visit as an entry for the owner's calendar (RFC 5545), and its cancellation (RFC 5546)."""

from collections.abc import Sequence
from datetime import UTC

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as _
from icalendar import Calendar, Event, vCalAddress

from service_center.book.models import Piece
from service_center.book.wording import language_of
from service_center.intake.visits.models import Visit
from service_center.intake.visits.rules import VisitState
from service_center.letters.rules.addressing import one_line

CONTENT_TYPE = "text/calendar; charset=utf-8; method={method}"


def method_of(visit: Visit) -> str:
    """What a calendar does with the entry: keep it, or take it away.

    An owner fetches the entry instead of being invited by mail: it is published, and names no attendee who would
    have to answer (RFC 5546, 3.2.1).
    """
    return "CANCEL" if visit.state == VisitState.CANCELLED else "PUBLISH"


def calendar_entry(visit: Visit, pieces: Sequence[Piece]) -> bytes:
    """The entry as a file, in the owner's language, times in UTC. The same visit always has the same name in it.

    It holds no link: calendars are shared more freely than letters.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//{one_line(settings.HOUSE_NAME)}//Service center//EN")
    calendar.add("version", "2.0")
    calendar.add("method", method_of(visit))
    with translation.override(language_of(visit.owner)):
        calendar.add_component(_event(visit, pieces))
    return bytes(calendar.to_ical())


def _event(visit: Visit, pieces: Sequence[Piece]) -> Event:
    organizer = vCalAddress(f"mailto:{settings.MAIL_FROM}")
    organizer.params["CN"] = one_line(settings.HOUSE_NAME).replace('"', "'")
    event = Event()
    event.add("uid", uid_of(visit))
    event.add("sequence", visit.sequence)
    event.add("dtstamp", visit.changed_at.astimezone(UTC))
    event.add("dtstart", visit.starts_at.astimezone(UTC))
    event.add("dtend", visit.ends_at.astimezone(UTC))
    event.add("status", "CANCELLED" if visit.state == VisitState.CANCELLED else "CONFIRMED")
    event.add("organizer", organizer)
    event.add("location", f"{settings.HOUSE_NAME}, {visit.boutique}")
    event.add("summary", _("Visit at %(boutique)s") % {"boutique": f"{settings.HOUSE_NAME}, {visit.boutique}"})
    event.add("description", "\n".join([_("You bring:"), *map(_named, pieces), _how_to_change()]))
    return event


def uid_of(visit: Visit) -> str:
    """The visit's name in every calendar, for ever."""
    return f"{visit.key}@{settings.MAIL_FROM.rpartition('@')[2]}"


def _named(piece: Piece) -> str:
    return f"{piece.model} {piece.serial}" if piece.model else piece.serial


def _how_to_change() -> str:
    return _("To move or cancel the visit, open the link in our letter.")
