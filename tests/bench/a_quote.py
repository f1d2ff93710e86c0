"""What a quote at the counter costs: from the book, with many orders in the house and many that are over.

    python -m tests.bench.a_quote [orders in the house [orders that are over]]

Seconds of this process, whatever else the machine does; the first quote of a day reads what was learnt, later ones
remember it. Twelve watchmakers with calendars; the orders that are over have their minutes written down, so that all is learnt. Runs on
the database of DATABASE_URL, in a test database of its own.
"""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import django
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.book.models import Piece  # noqa: E402  # after Django is set up
from service_center.book.rules import Complexity, EntryKind  # noqa: E402
from service_center.planning.queries.promising import house_on, quote_on  # noqa: E402
from service_center.workshop.calendars.actions import add_watchmaker  # noqa: E402
from service_center.workshop.models import OrderOperation, TimeSpent, WorkOrder  # noqa: E402
from service_center.workshop.orders.rules.operations import HOUSE_TIMES  # noqa: E402
from tests.factories import BoutiqueFactory, CalibreFactory, StaffFactory, WatchModelFactory  # noqa: E402

AS_OF = date(2026, 3, 2)
SKILLS = list(Complexity)
TEAM = [SKILLS[:2]] * 5 + [SKILLS[:3]] * 4 + [SKILLS] * 3
SIX_HOURS = [360] * 5 + [0, 0]


def main() -> None:
    inside, over = (*[int(text) for text in sys.argv[1:]], *(300, 5_000)[len(sys.argv) - 1 :])
    with _test_database():
        _house(inside, over)
        cache.clear()
        for turn in range(4):
            began = time.process_time()
            with CaptureQueriesContext(connection) as made:
                house = house_on(AS_OF)
            read = time.process_time()
            found = quote_on(house, EntryKind.OVERHAUL, SKILLS[turn], rated=True, usual_day=AS_OF + timedelta(days=35))
            done = time.process_time()
            print(
                f"{connection.vendor}, {'first' if turn == 0 else 'later'} of the day: {inside} in the house, {over} over: read {read - began:.2f} s in {len(made)} "
                f"statements, worked out {done - read:.2f} s, together {done - began:.2f} s: {found}"
            )


def _house(inside: int, over: int) -> None:
    boutique, by = BoutiqueFactory(), StaffFactory()
    models = [WatchModelFactory(calibre=CalibreFactory(complexity=one.value), rated_bar=10) for one in SKILLS]
    for number, skills in enumerate(TEAM):
        add_watchmaker(
            name=f"Watchmaker {number}", first_day=date(2020, 1, 6), last_day=None, account=None, minutes=SIX_HOURS,
            skills={one.value: None for one in skills}, by=None,
        )  # fmt: skip
    pieces = Piece.objects.bulk_create(
        Piece(serial=f"Q-{number:07d}", model=models[number % 4]) for number in range(inside + over)
    )
    then = datetime(2025, 6, 2, 10, tzinfo=UTC)
    orders = WorkOrder.objects.bulk_create(
        WorkOrder(
            number=f"Q-{number:06d}", piece=piece, boutique=boutique, kind="overhaul", complexity=SKILLS[number % 4].value,
            opened_on=AS_OF - timedelta(days=20), opened_at=then, step_since=then,
            step="on_the_bench" if number < inside else "handed_back", closed_on=None if number < inside else AS_OF,
            promised_on=AS_OF + timedelta(days=3 + number % 50),
        )
        for number, piece in enumerate(pieces)
    )  # fmt: skip
    operations = OrderOperation.objects.bulk_create(
        (
            OrderOperation(
                order=order, operation=operation.value, position=position, minutes=planned.minutes,
                wait_hours=planned.wait_hours,
                finished_at=then if number >= inside or position < number % 8 else None,
            )
            for number, order in enumerate(orders)
            for position, (operation, planned) in enumerate(
                HOUSE_TIMES[EntryKind.OVERHAUL][SKILLS[number % 4]].items()
            )
        ),
        batch_size=2_000,
    )  # fmt: skip
    TimeSpent.objects.bulk_create(
        (
            TimeSpent(form_key=uuid4(), operation=one, minutes=one.minutes + number % 11, by=by, at=then)
            for number, one in enumerate(operations)
            if one.finished_at
        ),
        batch_size=2_000,
    )


@contextmanager
def _test_database() -> Iterator[None]:
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)


if __name__ == "__main__":
    main()
