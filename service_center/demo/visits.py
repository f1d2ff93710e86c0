"""When Fernhollow's boutiques receive, and who comes in the next days: owners who answered their letters."""

import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from uuid import uuid4

from service_center.access.models import Staff
from service_center.book.models import Boutique, Piece
from service_center.book.rules import Place
from service_center.demo.past import mark_as_sent
from service_center.intake.visits.actions import Wish, book, close_days, keep_hours
from service_center.intake.visits.queries import free_days
from service_center.intake.visits.rules import Hours, version_of
from service_center.letters.models import Letter
from service_center.letters.rules.words import LetterSort, LetterState

WEEKDAYS, TO_SATURDAY, WITHOUT_TUESDAY = range(5), range(1, 6), (0, 2, 3, 4, 5, 6)
MORNING, NOON, AFTERNOON, EVENING = time(10), time(13), time(14), time(18)

WEEKS = {
    "HAR": [
        *(Hours(day, MORNING, NOON, 2) for day in WEEKDAYS),
        *(Hours(day, AFTERNOON, EVENING, 2) for day in WEEKDAYS),
        Hours(5, MORNING, time(16), 1),
    ],
    "EST": [
        *(Hours(day, MORNING, time(12, 30), 1) for day in TO_SATURDAY),
        *(Hours(day, AFTERNOON, time(19), 2) for day in TO_SATURDAY),
    ],
    "KAZ": [Hours(day, time(11), time(19), 2) for day in WITHOUT_TUESDAY],
}
DAYS_AHEAD = 9
OWNERS = {"HAR": 14, "EST": 6, "KAZ": 6}


def open_boutiques(today: date, *, by: Staff) -> None:
    """Write down the opening hours of the three boutiques, and a day on which one is closed."""
    for code, week in WEEKS.items():
        keep_hours(Boutique.objects.get(code=code), week, seen=version_of([]), by=by)
    stocktaking = today + timedelta(days=21)
    close_days(Boutique.objects.get(code="HAR"), stocktaking, stocktaking, reason="Stocktaking", by=by)


def book_visits(dice: random.Random, today: date) -> None:
    """Owners who had a letter in the last weeks and have not answered yet book places, from today on."""
    for code, owners in OWNERS.items():
        boutique = Boutique.objects.get(code=code)
        for letter, pieces in _who_might_come(boutique, owners):
            said_on = max(letter.planned_on, today - timedelta(days=dice.randint(2, 6)))
            days = free_days(boutique, max(today, said_on + timedelta(days=1)), today + timedelta(days=DAYS_AHEAD))
            slot = dice.choice(dice.choice(days).free).slot
            wish = Wish(boutique, slot.day, slot.at)
            book(letter, pieces, wish, form_key=uuid4(), on=said_on, now=datetime.combine(said_on, time(0), UTC))
    confirmed = Letter.objects.filter(sort=LetterSort.CONFIRMATION, state=LetterState.WAITING)
    mark_as_sent(confirmed.select_related("owner"))


def _who_might_come(boutique: Boutique, owners: int) -> Iterator[tuple[Letter, list[Piece]]]:
    """Letters about pieces that this boutique sold and that are with their owners, latest first, one an owner."""
    sent = Letter.objects.filter(
        state=LetterState.SENT,
        answers=None,
        owner__visits=None,
        reminders__ended_on=None,
        reminders__piece__boutique=boutique,
    )
    found: dict[int, list[Piece]] = {}
    for letter in sent.distinct().order_by("-planned_on", "pk")[: 4 * owners]:
        reminders = letter.reminders.filter(ended_on=None).select_related("piece")
        pieces = list({reminder.piece_id: reminder.piece for reminder in reminders}.values())
        at_home = all(piece.place == Place.OWNER and piece.owner_id == letter.owner_id for piece in pieces)
        if at_home and letter.owner_id not in found and len(found) < owners:
            found[letter.owner_id] = pieces
            yield letter, pieces
