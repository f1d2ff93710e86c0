"""Fills the workshop, the counters and the desk of a made book, so that no page is measured on empty lists.

    DATABASE_URL=postgres://... python -m tests.bench.on_a_made_book.full_house [orders in the house [orders that are over]]

Once, into a book of `make_large_book`, after `recompute_due` and a round. Three years of orders with their operations,
minutes, parts and readings, drop-offs, visits, answers, reports about letters, requests, and one week planned, all on
the day after the book's last. Every twentieth owner loses their e-mail address, so that the desk has somebody to reach
otherwise. From a fixed seed; what is written is what the site would write, but by the thousand.
"""

import os
import sys
from datetime import UTC, datetime

import django
from django.db import connection

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.access.models import Staff  # noqa: E402  # after Django is set up
from service_center.workshop.models import WorkOrder  # noqa: E402
from tests.bench.on_a_made_book.full_house.counter import write_drop_offs, write_visits  # noqa: E402
from tests.bench.on_a_made_book.full_house.desk import take_addresses, write_answers  # noqa: E402
from tests.bench.on_a_made_book.full_house.workshop import (  # noqa: E402
    employ_watchmakers,
    plan_week,
    write_orders,
    write_parts,
    write_work,
)


def main() -> None:
    inside, over = (*[int(text) for text in sys.argv[1:]], *(3_000, 100_000)[len(sys.argv) - 1 :])
    if WorkOrder.objects.exists():
        sys.exit("this house has orders already: fill a book that was just made")
    by, _new = Staff.objects.get_or_create(username="bench-desk", defaults={"role": "desk"})
    steps = [
        ("owners without e-mail", take_addresses),
        ("watchmakers", lambda: employ_watchmakers(by)),
        ("orders", lambda: write_orders(inside, over, by)),
        ("what was done at them", lambda: write_work(by)),
        ("parts", lambda: write_parts(by)),
        ("readings and drop-offs", lambda: write_drop_offs(by)),
        ("visits", write_visits),
        ("letters' answers and reports", write_answers),
        ("a planned week", plan_week),
    ]
    for name, deed in steps:
        began = datetime.now(UTC)
        deed()
        print(f"{name}: {(datetime.now(UTC) - began).total_seconds():.0f} s", flush=True)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


if __name__ == "__main__":
    main()
