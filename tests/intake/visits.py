"""A boutique that keeps hours, and owners to whom a letter went."""

from datetime import UTC, date, datetime, time
from uuid import uuid4

from service_center.book.models import Boutique, Piece
from service_center.intake.visits import actions
from service_center.intake.visits.actions import Wish
from service_center.intake.visits.models import OpeningHours, Visit
from service_center.letters.models import Letter, Reminder
from tests.factories import PieceFactory

TODAY = date(2026, 6, 5)
NOW = datetime(2026, 6, 5, 10, 0, tzinfo=UTC)
FRIDAY = date(2026, 6, 12)


def keep_hours(boutique: Boutique, *, places: int = 1, opens: int = 10, closes: int = 12) -> Boutique:
    """Open on weekdays, from ten to noon unless the sentence needs other hours."""
    for weekday in range(5):
        OpeningHours.objects.create(
            boutique=boutique, weekday=weekday, opens=time(opens), closes=time(closes), places=places
        )
    return boutique


def letter_about(*pieces: Piece) -> Letter:
    """The letter that went to the owner of these pieces."""
    sent = {"language": "en", "not_before": NOW, "state": "sent", "sent_at": NOW}
    letter, _new = Letter.objects.get_or_create(owner=pieces[0].owner, planned_on=date(2026, 5, 4), defaults=sent)
    for piece in pieces:
        step = {"kind": "overhaul", "starts_on": date(2019, 5, 17), "step": "invitation"}
        Reminder.objects.get_or_create(piece=piece, **step, defaults={"letter": letter, "due_on": date(2026, 5, 17)})
    return letter


def book(boutique: Boutique, *pieces: Piece, at: str = "10:00", day: date = FRIDAY) -> Visit:
    """A visit with a piece, or with several of one owner."""
    coming = pieces or (PieceFactory(boutique=boutique),)
    wish = Wish(boutique, day, time.fromisoformat(at))
    return actions.book(letter_about(*coming), coming, wish, form_key=uuid4(), on=TODAY, now=NOW)
