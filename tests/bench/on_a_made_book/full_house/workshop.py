"""The workshop: who works there, three years of orders with all that was done at them, parts, and one planned week."""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

from service_center.access.models import Staff
from service_center.book.models import Boutique, Calibre, Custody, Piece
from service_center.book.rules import Complexity, EntryKind, Place
from service_center.planning.models import PlanLine, WeekPlan
from service_center.workshop.calendars.actions import add_watchmaker
from service_center.workshop.models import (
    OrderEstimate,
    OrderMove,
    OrderOperation,
    Part,
    StockMove,
    TimeSpent,
    Watchmaker,
    WorkOrder,
)
from service_center.workshop.orders.rules.operations import HOUSE_TIMES
from service_center.workshop.orders.rules.steps import NEEDED, Step
from service_center.workshop.parts.rules import PartSort, StockReason
from tests.bench.on_a_made_book.full_house.writing import AS_OF, BATCH, at, chance, key, write

WATCHMAKERS, PARTS_A_CALIBRE = 60, 19
KINDS = [EntryKind.OVERHAUL] * 12 + [EntryKind.REPAIR] * 5 + [EntryKind.TIGHTNESS_CHECK] * 2 + [EntryKind.STRAP]


def employ_watchmakers(by: Staff) -> None:
    skills = list(Complexity)
    for number in range(WATCHMAKERS):
        account = Staff.objects.create(username=f"bench-{number}", role="watchmaker")
        may = skills[: 2 + number % 3]
        add_watchmaker(
            name=f"Watchmaker {number:02}", first_day=date(2020, 1, 6), last_day=None, account=account,
            minutes=[420] * 5 + [0, 0], skills={one.value: None for one in may}, by=by,
        )  # fmt: skip


def write_orders(inside: int, over: int, by: Staff) -> None:
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


def write_work(by: Staff) -> None:
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


def write_parts(by: Staff) -> None:
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


def plan_week() -> None:
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
