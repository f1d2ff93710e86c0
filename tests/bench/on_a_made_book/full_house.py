"""Fills the workshop, the counters and the desk of a made book, so that no page is measured on empty lists.

    DATABASE_URL=postgres://... python -m tests.bench.on_a_made_book.full_house [orders in the house [orders that are over]]

Once, into a book of `make_large_book`, after `recompute_due` and a round. Three years of orders with their operations,
minutes, parts and readings, drop-offs, visits, answers, reports about letters, requests, and one week planned, all on
the day after the book's last. Every twentieth owner loses their e-mail address, so that the desk has somebody to reach
otherwise. From a fixed seed; what is written is what the site would write, but by the thousand.
"""

import os
import random
import sys
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from uuid import UUID

import django
from django.db import connection, models

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.access.models import Staff  # noqa: E402  # after Django is set up
from service_center.book.models import Boutique, Calibre, Custody, Owner, Piece  # noqa: E402
from service_center.book.rules import Complexity, EntryKind, Place  # noqa: E402
from service_center.guarantee.rules.decision import CoveredBy, Decision, Reason  # noqa: E402
from service_center.intake.models import DropOff, OpeningHours, Visit, VisitPiece  # noqa: E402
from service_center.letters.models import Answer, DeliveryReport, Letter, StoppedAddress  # noqa: E402
from service_center.measurements.models import Reading, TimingSheet  # noqa: E402
from service_center.measurements.rules import Wind  # noqa: E402
from service_center.owner_pages.models import OwnerRequest  # noqa: E402
from service_center.planning.models import PlanLine, WeekPlan  # noqa: E402
from service_center.workshop.calendars.actions import add_watchmaker  # noqa: E402
from service_center.workshop.models import (  # noqa: E402
    OrderEstimate,
    OrderMove,
    OrderOperation,
    Part,
    StockMove,
    TimeSpent,
    Watchmaker,
    WorkOrder,
)
from service_center.workshop.orders.rules.operations import HOUSE_TIMES  # noqa: E402
from service_center.workshop.orders.rules.steps import NEEDED, Step  # noqa: E402
from service_center.workshop.parts.rules import PartSort, StockReason  # noqa: E402

AS_OF = date(2026, 7, 1)
WATCHMAKERS, PARTS_A_CALIBRE = 60, 19
KINDS = [EntryKind.OVERHAUL] * 12 + [EntryKind.REPAIR] * 5 + [EntryKind.TIGHTNESS_CHECK] * 2 + [EntryKind.STRAP]
BATCH = 5_000
chance = random.Random(11)


def main() -> None:
    inside, over = (*[int(text) for text in sys.argv[1:]], *(3_000, 100_000)[len(sys.argv) - 1 :])
    if WorkOrder.objects.exists():
        sys.exit("this house has orders already: fill a book that was just made")
    by, _new = Staff.objects.get_or_create(username="bench-desk", defaults={"role": "desk"})
    steps: list[tuple[str, Callable[[], object]]] = [
        ("owners without e-mail", _take_addresses),
        ("watchmakers", lambda: _watchmakers(by)),
        ("orders", lambda: _orders(inside, over, by)),
        ("what was done at them", lambda: _work(by)),
        ("parts", lambda: _parts(by)),
        ("readings and drop-offs", lambda: _intake(by)),
        ("visits", _visits),
        ("letters' answers and reports", _answers),
        ("a planned week", _week),
    ]
    for name, deed in steps:
        began = datetime.now(UTC)
        deed()
        print(f"{name}: {(datetime.now(UTC) - began).total_seconds():.0f} s", flush=True)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def at(day: date, hour: int = 10) -> datetime:
    return datetime.combine(day, time(hour), UTC)


def key() -> UUID:
    return UUID(int=chance.getrandbits(128), version=4)


def write(rows: Iterable[models.Model]) -> None:
    """By the thousand, without holding them all."""
    chunk: list[models.Model] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == BATCH:
            type(row)._default_manager.bulk_create(chunk)
            chunk = []
    if chunk:
        type(chunk[0])._default_manager.bulk_create(chunk)


def _take_addresses() -> None:
    ids = [pk for pk in Owner.objects.filter(letters=True).order_by("pk").values_list("pk", flat=True) if pk % 20 == 0]
    for start in range(0, len(ids), BATCH):
        Owner.objects.filter(pk__in=ids[start : start + BATCH]).update(email="")


def _watchmakers(by: Staff) -> None:
    skills = list(Complexity)
    for number in range(WATCHMAKERS):
        account = Staff.objects.create(username=f"bench-{number}", role="watchmaker")
        may = skills[: 2 + number % 3]
        add_watchmaker(
            name=f"Watchmaker {number:02}", first_day=date(2020, 1, 6), last_day=None, account=account,
            minutes=[420] * 5 + [0, 0], skills={one.value: None for one in may}, by=by,
        )  # fmt: skip


def _orders(inside: int, over: int, by: Staff) -> None:
    """Those that are over, evenly over three years; those inside, at every step on their way."""
    every = Piece.objects.count() // (inside + over)
    pieces = Piece.objects.filter(place=Place.OWNER.value).order_by("pk").select_related("model__calibre")
    boutiques = list(Boutique.objects.order_by("pk"))
    benches = list(Staff.objects.filter(role="watchmaker"))
    write(
        _order(number, piece, boutiques, benches, by, inside, over)
        for number, piece in enumerate(pieces.filter(pk__in=range(every, every * (inside + over + 1), every)))
    )
    open_orders = list(WorkOrder.objects.filter(closed_on=None).exclude(step=Step.LOGGED.value))
    write(Custody(piece_id=one.piece_id, place=Place.WORKSHOP.value, since=one.opened_at, by=by) for one in open_orders)
    for start in range(0, len(open_orders), BATCH):
        here = [one.piece_id for one in open_orders[start : start + BATCH]]
        Piece.objects.filter(pk__in=here).update(place=Place.WORKSHOP.value)


def _order(
    number: int, piece: Piece, boutiques: list[Boutique], benches: list[Staff], by: Staff, inside: int, over: int
) -> WorkOrder:
    kind = KINDS[number % len(KINDS)]
    closed = number >= inside
    opened = AS_OF - timedelta(days=1 + (40 + (number - inside) * 1050 // over if closed else number % 60))
    way = NEEDED[kind]
    step = Step.HANDED_BACK if closed else way[number // len(KINDS) % len(way)]
    calibre = piece.model.calibre if piece.model else None
    ready = opened + timedelta(days=20 + number % 17) if closed else AS_OF if step is Step.READY else None
    return WorkOrder(
        number=f"{opened:%y}-{number:06}",
        piece=piece,
        owner_id=piece.owner_id,
        boutique=piece.boutique or boutiques[number % len(boutiques)],
        kind=kind.value,
        complexity=calibre.complexity if calibre else "",
        opened_on=opened,
        opened_at=at(opened),
        opened_by=by,
        promised_on=opened + timedelta(days=35),
        quoted_on=opened + timedelta(days=30),
        step=step.value,
        step_since=at(ready or opened + timedelta(days=1)),
        asks_owner=number % 3 == 0,
        bench=benches[number % len(benches)] if step is Step.ON_THE_BENCH else None,
        ready_on=ready,
        closed_on=min(AS_OF, ready + timedelta(days=4)) if closed and ready else None,
    )


def _work(by: Staff) -> None:
    write(_moves(by))
    write(_operations(by))
    last_year = at(AS_OF - timedelta(days=365))
    done = OrderOperation.objects.filter(finished_at__gt=last_year).order_by("pk").iterator(BATCH)
    write(
        TimeSpent(
            form_key=key(), operation=one, minutes=max(1, one.minutes + one.pk % 15 - 6), by=by, at=one.finished_at
        )
        for one in done
    )
    asked = WorkOrder.objects.filter(closed_on=None, asks_owner=True).exclude(step__in=[Step.LOGGED, Step.RECEIVED])
    write(
        OrderEstimate(
            form_key=key(), order=order, lines=[{"what": "Overhaul", "price": "450.00", "covered": False, "because": ""}],
            total=Decimal(450), currency="EUR", valid_until=AS_OF + timedelta(days=20), made_on=order.opened_on,
            made_at=order.opened_at, made_by=by,
        )
        for order in asked
    )  # fmt: skip


def _moves(by: Staff) -> Iterable[OrderMove]:
    for order in WorkOrder.objects.order_by("pk").iterator(BATCH):
        way = [*NEEDED[EntryKind(order.kind)], Step.HANDED_BACK]
        for days, step in enumerate(way[: way.index(Step(order.step)) + 1]):
            yield OrderMove(
                order=order, step=step.value, at=order.opened_at + timedelta(days=3 * days), by=by,
                place=Place.BOUTIQUE.value if step is Step.LOGGED else Place.WORKSHOP.value,
            )  # fmt: skip


def _operations(by: Staff) -> Iterable[OrderOperation]:
    for order in WorkOrder.objects.order_by("pk").iterator(BATCH):
        skill = Complexity(order.complexity) if order.complexity else Complexity.AUTOMATIC
        times = HOUSE_TIMES[EntryKind(order.kind)][skill]
        ended = len(times) if order.ready_on else order.pk % 5 if order.step == Step.ON_THE_BENCH else 0
        for position, (operation, planned) in enumerate(times.items()):
            finished = order.opened_at + timedelta(days=2 + position) if position < ended else None
            yield OrderOperation(
                order=order, operation=operation.value, position=position, minutes=planned.minutes,
                wait_hours=planned.wait_hours, finished_at=finished, finished_by=by if finished else None,
            )  # fmt: skip


def _parts(by: Staff) -> None:
    """So many parts of each calibre; four or five of them go into each order that is over."""
    calibres = list(Calibre.objects.order_by("pk"))
    sorts = list(PartSort)
    write(
        Part(
            number=f"P-{calibre.code}-{number:02}", name=f"Part {number} of {calibre.code}",
            sort=sorts[number % len(sorts)].value, calibre=calibre, pack=10, delivery_days=21,
        )
        for calibre in calibres
        for number in range(PARTS_A_CALIBRE)
    )  # fmt: skip
    of: dict[int | None, list[Part]] = {}
    for part in Part.objects.order_by("pk"):
        of.setdefault(part.calibre_id, []).append(part)
    write(
        StockMove(
            form_key=key(), part=part, quantity=120 * (1 + chance.randrange(3)), reason=StockReason.DELIVERED.value,
            at=at(AS_OF - timedelta(days=15 * back)), by=by,
        )
        for back in range(73)
        for parts in of.values()
        for part in parts
    )  # fmt: skip
    over = WorkOrder.objects.filter(closed_on__isnull=False).order_by("pk").select_related("piece__model")
    write(
        StockMove(form_key=key(), part=part, quantity=-1, reason=StockReason.USED.value, order=order,
                  at=order.opened_at + timedelta(days=9), by=by)
        for order in over.iterator(BATCH)
        if order.piece.model and order.piece.model.calibre_id
        for part in chance.sample(of[order.piece.model.calibre_id], 4 + order.pk % 2)
    )  # fmt: skip


def _intake(by: Staff) -> None:
    """The orders of a year with their readings before, and their drop-offs."""
    nothing = Decision(AS_OF, CoveredBy.NONE, Reason.NO_SALE_DATE, (), None, None)
    orders = list(WorkOrder.objects.filter(opened_on__gt=AS_OF - timedelta(days=365)).order_by("pk"))
    for start in range(0, len(orders), BATCH):
        some = orders[start : start + BATCH]
        sheets = TimingSheet.objects.bulk_create(
            TimingSheet(piece_id=one.piece_id, taken_on=one.opened_on, instrument="Bench 2") for one in some
        )
        write(
            Reading(
                sheet=sheet,
                position=position,
                wind=Wind.FULL.value,
                rate=Decimal(sheet.pk % 14 - 4),
                amplitude=Decimal(270),
            )
            for sheet in sheets
            for position in ("CH", "CB", "6H", "9H", "3H", "12H")
        )
        moves = Custody.objects.bulk_create(
            Custody(piece_id=one.piece_id, place=Place.BOUTIQUE.value, boutique_id=one.boutique_id, since=one.opened_at)
            for one in some
        )
        DropOff.objects.bulk_create(
            DropOff(
                form_key=key(), number=one.number, piece_id=one.piece_id, move=move, owner_id=one.owner_id,
                boutique_id=one.boutique_id, taken_on=one.opened_on, taken_by=by, owner_says="It loses a minute a day.",
                promised_on=one.promised_on, guarantee=nothing.record(), sheet=sheet,
            )
            for one, move, sheet in zip(some, moves, sheets, strict=True)
        )  # fmt: skip


def _visits() -> None:
    boutiques = list(Boutique.objects.order_by("pk"))
    write(
        OpeningHours(boutique=boutique, weekday=weekday, opens=time(10), closes=time(18), places=2)
        for boutique in boutiques
        for weekday in range(5)
    )
    seats = [
        (day, boutique, seat)
        for day in (AS_OF + timedelta(days=days) for days in range(-80, 30))
        if day.weekday() < 5
        for boutique in boutiques
        for seat in range(16)
    ]
    told = Letter.objects.filter(state="sent").order_by("-pk").values_list("pk", "owner_id")[: len(seats)]
    visits = [
        Visit(
            key=key(), owner_id=owner, letter_id=letter, boutique=boutique, day=day, at=time(10 + seat // 2), zone="UTC",
            starts_at=at(day, 10 + seat // 2), ends_at=at(day, 10 + seat // 2) + timedelta(minutes=30), seat=1 + seat % 2,
            state="booked" if day >= AS_OF else "came", changed_at=at(AS_OF),
        )
        for (day, boutique, seat), (letter, owner) in zip(seats, told, strict=False)
    ]  # fmt: skip
    write(visits)
    pieces = dict(Piece.objects.filter(owner__in={one.owner_id for one in visits}).values_list("owner_id", "pk"))
    write(VisitPiece(visit_id=pk, piece_id=pieces[owner]) for pk, owner in Visit.objects.values_list("pk", "owner_id"))


def _answers() -> None:
    sent = list(
        Letter.objects.filter(state="sent").order_by("pk").values_list("pk", "owner_id", "planned_on")[:100_000]
    )
    pieces = dict(Piece.objects.filter(owner__in=[owner for _pk, owner, _day in sent]).values_list("owner_id", "pk"))
    choices = ("booked", "not_now", "not_now", "done_elsewhere", "no_longer_mine", "no_more_letters")
    write(
        Answer(owner_id=owner, piece_id=pieces[owner], letter_id=letter, choice=choices[letter % len(choices)],
               said_on=day + timedelta(days=letter % 28))
        for letter, owner, day in sent
    )  # fmt: skip
    write(
        DeliveryReport(letter_id=letter, email=f"gone{letter}@owners.example", source="mail", happened="failed",
                       happened_at=at(day + timedelta(days=1)), status="5.1.1", words="550 5.1.1 no such mailbox",
                       fault="address", recorded_at=at(day + timedelta(days=1)))
        for letter, _owner, day in sent[::5]
    )  # fmt: skip
    write(
        StoppedAddress(email=f"gone{letter}@owners.example", stopped_at=at(day), because="550 5.1.1", status="5.1.1",
                       letter_id=letter)
        for letter, _owner, day in sent[::5]
    )  # fmt: skip
    write(
        OwnerRequest(owner_id=owner, letter_id=letter, kind="correction", said="It is another strap.",
                     asked_on=day, asked_at=at(day), due_on=AS_OF + timedelta(days=letter % 30),
                     state="open" if letter % 10 == 0 else "done")
        for letter, owner, day in sent[::25]
    )  # fmt: skip


def _week() -> None:
    """What every bench does on each day of the present week: five operations of the orders at the bench."""
    monday = AS_OF - timedelta(days=AS_OF.weekday())
    plan = WeekPlan.objects.create(
        monday=monday, wanted=False, wanted_from=monday, wanted_at=at(monday), planned_at=at(monday), as_of=monday,
        cost=0, plain_cost=0, bound=0, days_bound=0, days_late=0, minutes_left_out=0, changes=0, load=0,
    )  # fmt: skip
    waiting = OrderOperation.objects.filter(
        finished_at=None, order__closed_on=None, order__step=Step.ON_THE_BENCH.value
    ).order_by("pk")
    places = [
        (watchmaker, monday + timedelta(days=day), turn)
        for watchmaker in Watchmaker.objects.order_by("pk")
        for day in range(5)
        for turn in range(1, 6)
    ]
    write(
        PlanLine(plan=plan, operation=operation, watchmaker=watchmaker, day=day, turn=turn, minutes=operation.minutes)
        for operation, (watchmaker, day, turn) in zip(waiting, places, strict=False)
    )


if __name__ == "__main__":
    main()
