"""Letters of the past, as facts: what the house would have sent, marked as sent. None of them is mailed."""

import hashlib
from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection
from django.db.models import Q

from service_center.book.models import Owner
from service_center.book.rules import ServiceKind
from service_center.book.wording import language_of
from service_center.demo.rules.past_letters import PastLetter, past_letters
from service_center.intervals.actions import bring_to
from service_center.intervals.models import DueDate
from service_center.letters.actions import daily_round
from service_center.letters.calendars import working_days, zone_of
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.addressing import message_id
from service_center.letters.rules.mornings import morning_of
from service_center.letters.rules.steps import DueService
from service_center.letters.rules.unusual import Asked
from service_center.letters.rules.words import LetterState

WEEKS = 8  # of rounds before today, each run as it would have been


def write_letters(today: date, progress: Callable[[str, int, int], None]) -> None:
    """Tell the years before by the rules alone, and the last weeks by the real round.

    The letters of the last round stay as they are, waiting: the sender delivers them into the demo's own mailbox.
    """
    first = _working_day(today - timedelta(weeks=WEEKS))
    days = [first + timedelta(weeks=week) for week in range(WEEKS - 1)] + [_working_day(today - timedelta(days=1))]
    bring_to(as_of=first)
    _tell_the_years(first)
    _know_the_sizes()
    for number, day in enumerate(days, start=1):
        daily_round(as_of=day, now=datetime.combine(day, time(18), ZoneInfo("UTC")), asked=Asked.CONFIRMED)
        if day != days[-1]:
            mark_as_sent(Letter.objects.filter(state=LetterState.WAITING.value).select_related("owner"))
        progress("Past letters", number, len(days))
    bring_to(as_of=today)


def _tell_the_years(before: date) -> None:
    by_owner: dict[int, list[DueService]] = defaultdict(list)
    rows = DueDate.objects.filter(
        Q(due_on__isnull=False) & ~Q(piece__owner__email=""), held="", piece__owner__letters=True
    ).select_related("piece")
    for row in rows:
        by_owner[row.piece.owner_id or 0].append(_service(row))
    told: list[tuple[Owner, PastLetter]] = []
    for owner in Owner.objects.in_bulk(by_owner).values():
        told += [(owner, one) for one in past_letters(by_owner[owner.pk], before, working_days(owner.country))]
    told.sort(key=lambda one: one[1].day)
    letters = Letter.objects.bulk_create(
        [
            Letter(owner=owner, language=language_of(owner), planned_on=one.day, not_before=morning(owner, one.day))
            for owner, one in told
        ]
    )
    Reminder.objects.bulk_create(
        [
            Reminder(
                piece_id=planned.service.piece, kind=planned.service.kind.value, starts_on=planned.starts_on,
                step=planned.step.value, year=planned.year, letter=letter, due_on=planned.service.due_on,
            )
            for letter, (_owner, one) in zip(letters, told, strict=True)
            for planned in one.reminders
        ]
    )  # fmt: skip
    mark_as_sent(letters)


def _know_the_sizes() -> None:
    """PostgreSQL plans by what it last counted, and nothing of this was there then."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _service(row: DueDate) -> DueService:
    assert row.starts_on is not None and row.opens_on is not None
    assert row.due_on is not None and row.closes_on is not None
    return DueService(
        piece=row.piece_id,
        serial=row.piece.serial,
        kind=ServiceKind(row.kind),
        starts_on=row.starts_on,
        opens_on=row.opens_on,
        due_on=row.due_on,
        closes_on=row.closes_on,
        owed_since=row.owed_since,
    )


def mark_as_sent(letters: Iterable[Letter]) -> None:
    """As a mail server would have answered on that morning."""
    marked = []
    for letter in letters:
        letter.state = LetterState.SENT.value
        letter.attempt = 1
        letter.email = letter.owner.email
        letter.message_id = message_id(
            letter.pk, secret=settings.SECRET_KEY, domain=settings.MAIL_FROM.rpartition("@")[2]
        )
        letter.sent_at = letter.not_before + timedelta(seconds=2 + letter.pk % 50)
        letter.reply = f"250 2.0.0 queued as {hashlib.sha256(letter.message_id.encode()).hexdigest()[:10].upper()}"
        marked.append(letter)
    # The rows are there already: each conflicts with itself and is updated. bulk_update would write a CASE a column.
    changed = ["state", "attempt", "email", "message_id", "sent_at", "reply"]
    Letter.objects.bulk_create(marked, update_conflicts=True, unique_fields=["id"], update_fields=changed)


def morning(owner: Owner, day: date) -> datetime:
    """When a letter of that day goes out to an owner."""
    return morning_of(day, zone_of(owner.time_zone))


def _working_day(day: date) -> date:
    return day - timedelta(days=max(0, day.weekday() - 4))
