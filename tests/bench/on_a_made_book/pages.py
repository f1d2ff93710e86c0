"""Server time and statements of every page, on a book of any size.

    DATABASE_URL=postgres://... python -m tests.bench.on_a_made_book.pages [part of a page's name ...]
    DATABASE_URL=postgres://... python -m tests.bench.on_a_made_book.pages --explain NAME

Every named address of the site, and the lists once more with what people ask of them: searches, filters, pages far
back. Each is asked once, and then several times; printed are the fastest in milliseconds (the view with its statements
and its template, without the network), the processor time of this process and of the database's beside it (where that
runs on this machine), and the number of statements. Marked is a page that takes more than a tenth of a second of both
processors, or by the clock where the database's is not known.
`--explain` prints a page's slowest statements, and how PostgreSQL does them.

What a page needs (a letter with its links, a drop-off with its photograph) is made in a transaction that is taken back.
The book is one of `make_large_book`, with due dates (`recompute_due`), a round (`daily_round`), and its workshop and
counters filled by `tests.bench.on_a_made_book.full_house`; the day is the one after the book's last.
"""

import logging
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from itertools import islice
from pathlib import Path
from time import perf_counter, process_time
from typing import Any
from unittest.mock import patch
from urllib.parse import urlencode

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

import time_machine  # noqa: E402  # after Django is set up
from django.conf import settings  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from service_center.access.models import Staff  # noqa: E402
from service_center.access.rules import DOORS, Door, Role  # noqa: E402
from service_center.book.models import Boutique, Owner, Piece  # noqa: E402
from service_center.intake.models import DropOff  # noqa: E402
from service_center.letters.actions.counting import count_ahead  # noqa: E402
from service_center.letters.answered.actions import count_answers  # noqa: E402
from service_center.letters.answered.models import AnswersCounted  # noqa: E402
from service_center.letters.models import CountedAhead, Letter, PlannedInvitation, Round  # noqa: E402
from service_center.letters.rehearsing.actions import ask_to_rehearse, rehearse_next  # noqa: E402
from service_center.letters.rehearsing.models import Rehearsal  # noqa: E402
from service_center.planning.actions import ask_for_picture, ask_what_if, work_out  # noqa: E402
from service_center.planning.models import Reckoning  # noqa: E402
from service_center.planning.parts.actions import count_parts_daily  # noqa: E402
from service_center.workshop.models import Part, Watchmaker, WorkOrder  # noqa: E402
from tests.access import walk  # noqa: E402
from tests.access.walk import World, address, view_names  # noqa: E402
from tests.bench.on_a_made_book.full_house.writing import AS_OF  # noqa: E402

TIMES, SLOW = 4, 100
NOW = datetime.combine(AS_OF, time(10), UTC)
MONDAY = AS_OF - timedelta(days=AS_OF.weekday())


@dataclass(frozen=True)
class Asked:
    """One address, and as whom it is asked."""

    name: str
    client: Client
    address: str


def main() -> None:
    explained, parts = "--explain" in sys.argv, [text for text in sys.argv[1:] if not text.startswith("--")]
    settings.ALLOWED_HOSTS = ["*"]
    logging.disable(logging.WARNING)
    with time_machine.travel(NOW, tick=True):
        work_out_once()
        with taken_back():
            count_all_of_the_base()
            pages = [one for one in all_pages(parts) if wanted(one.name, parts)]
            print(f"{connection.vendor}: {Piece.objects.count():,} pieces, {Letter.objects.count():,} letters, "
                  f"{WorkOrder.objects.count():,} orders, {WorkOrder.objects.filter(closed_on=None).count():,} in the house")  # fmt: skip
            print(f"{'page':44} {'status':>6} {'ms':>7} {'web':>6} {'base':>6} {'statements':>10}")
            for page in pages:
                (explain if explained else measure)(page)


@contextmanager
def taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def count_all_of_the_base() -> None:
    """A statement's helpers are processes of their own, whose time is not counted: it does without them."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL max_parallel_workers_per_gather = 0")


def work_out_once() -> None:
    """The worker's part, of which pages only tell: letters, answers and parts counted, a round rehearsed, pictures of the weeks, a what-if."""
    count_parts_daily(as_of=AS_OF, now=NOW)
    if not CountedAhead.objects.filter(first=AS_OF, made_at=NOW).exists():
        count_ahead(as_of=AS_OF, now=NOW)
    if not AnswersCounted.objects.filter(made_at=NOW).exists():
        count_answers(now=NOW)
    if not Rehearsal.objects.filter(day=AS_OF, why="").exclude(finished_at=None).exists():
        ask_to_rehearse(day=AS_OF, at=NOW, by=None)
        rehearse_next(now=NOW)
    finished = Reckoning.objects.filter(as_of=AS_OF, finished_at__isnull=False)
    for weeks in (52, 156):
        if not finished.filter(sort="picture", weeks=weeks).exists():
            ask_for_picture(as_of=AS_OF, weeks=weeks, at=NOW, by=None)
            work_out(now=NOW)
    if not finished.filter(sort="what_if").exists():
        ask_what_if(as_of=AS_OF, weeks=52, about={"answers_percent": 120}, at=NOW, by=None)
        work_out(now=NOW)


def wanted(name: str, parts: Sequence[str]) -> bool:
    return not parts or any(part in name for part in parts)


def all_pages(parts: Sequence[str]) -> list[Asked]:
    manager, outside = signed_in(Role.MANAGER), Client()
    names = [name for name in view_names() if not name.startswith("demo:") and wanted(name, parts)]
    if not names:
        return asked_of_much(manager)
    with patch.object(walk, "work_out"):  # what the worker works out is no page, and takes minutes of a large book
        world = World()
    walked = [
        Asked(name, outside if isinstance(DOORS[name], Door) else manager, address(name, world)) for name in names
    ]
    return walked + asked_of_much(manager)


def asked_of_much(manager: Client) -> list[Asked]:
    """The lists with what people ask of them, and the pages of things that have much behind them."""
    boutique = Boutique.objects.order_by("pk")[0]
    bench = signed_in(Role.WATCHMAKER)
    piece = Piece.objects.filter(boutique=boutique, place="owner").order_by("-pk").select_related("owner")[0]
    owner = piece.owner or Owner.objects.order_by("-pk")[0]
    of = lists(piece, owner, boutique) + things()
    # A counter's searches are counted: each of its pages has somebody of its own.
    walks = [
        Asked(f"{name} {about}".strip(), signed_in(Role.MANAGER, also=f"-{n}") if name == "counter" else manager, path)
        for n, (name, about, path) in enumerate(of)
    ]
    theirs = ("today", "counter", "search", "due", "orders", "visits", "drop-offs")
    seen = [one for one in walks if one.name.startswith(theirs)]
    return (
        walks
        + [
            Asked(f"boutique's {one.name}", signed_in(Role.BOUTIQUE, boutique.code, f"-{n}"), one.address)
            for n, one in enumerate(seen)
        ]
        + [Asked(f"bench's {one.name}", bench, one.address) for one in seen if one.name.startswith(("today", "orders"))]
        + [Asked("bench's queue", bench, "/at-the-bench/"), Asked("bench's reception", bench, "/reception/")]
    )


def lists(piece: Piece, owner: Owner, boutique: Boutique) -> list[tuple[str, str, str]]:
    letters = Letter.objects.order_by("planned_on", "pk")
    early, count = letters[1000], WorkOrder.objects.count()
    month = f"{AS_OF:%Y-%m}"
    return [
        ("today", "", "/"),
        *(("search", about, f"/search/?{urlencode({'q': text})}") for about, text in sought(piece, owner)),
        *(("counter", about, f"/counter/?{urlencode({'q': text})}") for about, text in sought(piece, owner)),
        ("due", "", "/due/"),
        *(("due", about, f"/due/?{urlencode(given)}") for about, given in due_asked(boutique, month)),
        ("due file", "of a month", f"/due/due.csv?{urlencode({'month': month, 'boutique': boutique.code})}"),
        ("letters", "", "/letters/all/"),
        *(("letters", state, f"/letters/all/?state={state}") for state in ("waiting", "sent", "ended")),
        ("letters", "far back", f"/letters/all/?after={early.planned_on}.{early.pk}"),
        ("letters", "sent, far back", f"/letters/all/?state=sent&after={early.planned_on}.{early.pk}"),
        ("letters ahead", "a Monday", f"/letters/ahead/?day={AS_OF + timedelta(days=40)}"),
        ("letters' answers", "of a year", f"/letters/answers/?first={AS_OF - timedelta(days=364)}&last={AS_OF}"),
        ("without mail", "far back", f"/letters/reach/?after={owner.pk // 2}"),
        ("orders", "", "/orders/"),
        *(("orders", about, f"/orders/?{urlencode(given)}") for about, given in orders_asked(boutique, count)),
        ("visits", "of another day", f"/counter/visits/?boutique={boutique.code}&day={AS_OF + timedelta(days=5)}"),
        ("drop-offs", "", "/counter/taken-in/"),
    ]


def sought(piece: Piece, owner: Owner) -> list[tuple[str, str]]:
    family = owner.name.rpartition(" ")[2]
    return [
        ("a serial", piece.serial[:-3]),
        ("two characters of a serial", piece.serial[:2]),
        ("the end of a serial", piece.serial[-4:]),
        ("a name", owner.name),
        ("a family name", family),
        ("two letters of a name", family[:2]),
        ("an e-mail address", owner.email or "nobody@owners.example"),
        ("the beginning of an e-mail address", (owner.email or "nobody@owners.example").partition("@")[0]),
        ("a telephone", owner.phone or "+44 20 7946 0000"),
        ("nothing there", "zzyzx"),
    ]


def due_asked(boutique: Boutique, month: str) -> list[tuple[str, dict[str, str]]]:
    states = ("overdue", "owed", "due", "soon", "later", "unknown", "held")
    return [
        *((f"state {state}", {"state": state}) for state in states),
        ("of a month", {"month": month}),
        ("of a boutique", {"boutique": boutique.code}),
        ("tightness of a boutique and month", {"kind": "tightness", "boutique": boutique.code, "month": month}),
        ("overdue overhauls of a boutique", {"kind": "overhaul", "boutique": boutique.code, "state": "overdue"}),
    ]


def orders_asked(boutique: Boutique, count: int) -> list[tuple[str, dict[str, str]]]:
    steps = ("logged", "on_the_bench", "ready", "handed_back")
    return [
        *((f"at {step}", {"step": step}) for step in steps),
        ("of a boutique", {"boutique": boutique.code}),
        ("repairs of a boutique, over", {"boutique": boutique.code, "kind": "repair", "step": "handed_back"}),
        ("of batteries, over", {"kind": "battery", "step": "handed_back"}),
        ("by part of a number", {"q": f"{count // 2:06}"[2:]}),
    ]


def things() -> list[tuple[str, str, str]]:
    """What has much behind it: the round of the day, a part that moved a thousand times, the benches' week."""
    skill = "automatic"
    invited = PlannedInvitation.objects.order_by("invite_on").first()
    week = (invited.invite_on if invited else AS_OF) + timedelta(weeks=26)
    cells = [(AS_OF + timedelta(weeks=10)).isocalendar(), week.isocalendar()]
    order = WorkOrder.objects.filter(step="on_the_bench").order_by("pk")[0]
    drop_off = DropOff.objects.order_by("-pk")[0]
    found = [
        ("round", "of the day", f"/letters/rounds/{Round.objects.order_by('-letters')[0].pk}/"),
        ("part", "with its moves", f"/workshop/parts/{Part.objects.order_by('pk')[0].pk}/"),
        ("order", "at the bench", f"/orders/{order.number}/"),
        ("order", "its parts", f"/workshop/orders/{order.number}/parts/"),
        ("piece", "with an order", f"/pieces/{order.piece_id}/"),
        ("taken in", "", f"/counter/taken-in/{drop_off.pk}/"),
        ("benches' week", "", f"/planning/benches/{AS_OF:%G-W%V}/"),
        ("watchmaker", "", f"/workshop/benches/{Watchmaker.objects.order_by('pk')[0].pk}/"),
        ("weeks ahead", "a year", "/planning/?weeks=52"),
        ("weeks ahead", "three years", "/planning/?weeks=156"),
        ("weeks ahead", "what if", f"/planning/what-if/{Reckoning.objects.filter(sort='what_if').latest('pk').pk}/"),
        ("weeks ahead", "proposal", "/planning/proposal/?weeks=156"),
        ("weeks ahead", "parts, all", "/planning/parts/?all=1"),
    ]
    for year, number, _day in cells:
        cell = f"/planning/behind/{year}-W{number:02}/{skill}/"
        found += [
            ("behind", f"{year}-W{number:02}{also}", f"{cell}{also}?weeks=156")
            for also in ("", "letters-out/", "invited/")
        ]
    return found


def signed_in(role: Role, boutique: str = "", also: str = "") -> Client:
    name = f"pages-{role}{also}"
    staff, _new = Staff.objects.get_or_create(username=name, defaults={"role": role, "boutique": boutique})
    client = Client()
    client.force_login(staff)
    return client


def measure(page: Asked) -> None:
    with CaptureQueriesContext(connection) as made:
        status = look(page)
    statements, found = len(made), []
    for _turn in range(TIMES):
        began, web, base = perf_counter(), process_time(), base_seconds()
        look(page)
        found.append((perf_counter() - began, process_time() - web, base_seconds() - base))
        if found[0][0] > 2:
            break
    clock, web, base = (1000 * min(one[column] for one in found) for column in range(3))
    mark = "  SLOW" if (web + base if base else clock) > SLOW else ""
    print(f"{page.name:44} {status:6} {clock:7.1f} {web:6.1f} {base:6.1f} {statements:10}{mark}", flush=True)


def look(page: Asked) -> int:
    answer = page.client.get(page.address)
    if answer.streaming:  # of a file as long as the book, the first lines
        list(islice(answer.streaming_content, 100))  # type: ignore[attr-defined]
    return answer.status_code


def base_seconds() -> float:
    """Processor seconds of the database's process for this connection; 0 where it is this one, or on another machine."""
    if connection.vendor != "postgresql":
        return 0.0
    told = Path(f"/proc/{connection.connection.info.backend_pid}/schedstat")
    return int(told.read_text().split()[0]) / 1e9 if told.exists() else 0.0


def explain(page: Asked) -> None:
    look(page)
    with CaptureQueriesContext(connection) as made:
        look(page)
    asked = made.captured_queries
    slowest: list[dict[str, Any]] = sorted(asked, key=lambda one: -float(one["time"]))[:3]
    print(f"\n{page.name} ({page.address}): {len(asked)} statements")
    for one in slowest:
        print(f"  {1000 * float(one['time']):.0f} ms  {one['sql'][:3000]}")
        if (
            connection.vendor == "postgresql"
            and one["sql"].startswith(("SELECT", "WITH"))
            and float(one["time"]) > 0.01
        ):
            with connection.cursor() as cursor:
                cursor.execute("EXPLAIN (ANALYZE, BUFFERS) " + one["sql"].replace("%", "%%"))
                print("\n".join(f"      {line}" for (line,) in cursor.fetchall()))


if __name__ == "__main__":
    main()
