"""The work at an order as its page shows it: its operations, which is done next, and what the order waits for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID, uuid4

from django.db.models import Q, Sum
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from service_center.bench.orders.order_words import NEXT, NEXT_LACKING, TO_WRITE
from service_center.bench.orders.queue import taps
from service_center.bench.orders.queue_words import CAUTIONS_OF_PIECE, CAUTIONS_OF_WORK
from service_center.book.rules import EntryKind, Winding
from service_center.intake.rules import Asked, cautions_for
from service_center.workshop.calendars.queries import away_until
from service_center.workshop.orders.models import OrderOperation, WorkOrder
from service_center.workshop.orders.rules.control import Lack, Missing
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import Standing, Step, next_step
from service_center.workshop.orders.rules.where_done import done_at, left_at
from service_center.workshop.words import OPERATIONS


@dataclass(frozen=True, slots=True)
class OperationRow:
    """One operation: planned and spent minutes, and whether its tick can be set, or taken back, where the order stands."""

    line: OrderOperation
    name: str | Promise
    spent: int
    can_finish: bool
    can_take_back: bool

    @property
    def operation(self) -> Operation:
        return Operation(self.line.operation)

    @property
    def is_left(self) -> bool:
        return self.line.finished_at is None and not self.line.unneeded


@dataclass(frozen=True, slots=True)
class NextWork:
    """The operation that is done next: what to take care of, and the minutes that are offered at one tap."""

    row: OperationRow
    taps: tuple[int, ...]
    caution: str | Promise
    form_key: UUID


def operation_rows(order: WorkOrder) -> list[OperationRow]:
    """The operations of an order in the order of the work. One statement."""
    counts = Sum("time__minutes", filter=Q(time__taken_back=None))
    rows = order.operations.select_related("finished_by").annotate(spent=counts).order_by("position")
    found = []
    for line in rows:
        here = Step(order.step) in done_at(Operation(line.operation))
        finished = line.finished_at is not None
        found.append(
            OperationRow(
                line,
                OPERATIONS[Operation(line.operation)],
                line.spent or 0,
                can_finish=here and not finished and not line.unneeded,
                can_take_back=here and finished,
            )
        )
    return found


def left_here(standing: Standing, rows: Sequence[OperationRow]) -> list[OperationRow]:
    """The operations that are done before an order goes on from its step, in the order of the work."""
    left = {row.operation: row for row in rows if row.is_left}
    return [left[one] for one in left_at(standing.step, left)]


def next_work(standing: Standing, rows: Sequence[OperationRow], lacks: Sequence[Missing]) -> NextWork | None:
    """What a tap finishes next; None where nothing is left here, or the piece goes back first."""
    left = left_here(standing, rows)
    row = next((one for one in left if one.can_finish), None)
    if row is None or goes_back(standing, rows, lacks):
        return None
    return NextWork(row, taps(row.line.minutes), CAUTIONS_OF_WORK.get(row.operation, ""), uuid4())


def what_next(
    standing: Standing, rows: Sequence[OperationRow], lacks: Sequence[Missing], *, is_away: bool, now: datetime
) -> str | Promise:
    """What the order waits for, in one sentence. `is_away`: ready, and not at the boutique where its owner fetches it."""
    following = next_step(standing)
    if standing.step is Step.ESTIMATED or following is Step.ESTIMATED:
        return NEXT[Step.ESTIMATED] if standing.step is Step.ESTIMATED else TO_WRITE
    if following is Step.HANDED_BACK and is_away:
        return _("Next: it goes back to its boutique.")
    if standing.step is Step.ON_THE_BENCH and (left := left_here(standing, rows)):
        return _at_the_bench(left[0], rests_until(rows, now))
    if following is Step.READY and lacks:
        return _next_of(lacks, [row.operation for row in left_here(standing, rows)])
    return NEXT[following]


def _at_the_bench(row: OperationRow, rests: datetime | None) -> str:
    if rests is None:
        return _("Next: %(operation)s.") % {"operation": str(row.name)}
    when = date_format(timezone.localtime(rests), "D j M, H:i")
    return _("It rests until %(when)s. Next: %(operation)s.") % {"when": when, "operation": str(row.name)}


def goes_back(standing: Standing, rows: Sequence[OperationRow], lacks: Sequence[Missing]) -> bool:
    """Whether a piece under control goes back to the bench: it is not tight, or work of the bench is not finished."""
    if standing.step is not Step.UNDER_CONTROL:
        return False
    here = [row.operation for row in left_here(standing, rows)]
    return any(_is_failure(one) or one in _elsewhere(lacks, here) for one in lacks)


def _is_failure(one: Missing) -> bool:
    return one.lack is Lack.FAILED


def _elsewhere(lacks: Sequence[Missing], here: Sequence[Operation]) -> list[Missing]:
    """Operations that are missing and done at another step."""
    return [one for one in lacks if one.lack is Lack.OPERATION and Operation(one.what) not in here]


def rests_until(rows: Sequence[OperationRow], now: datetime) -> datetime | None:
    """Until when the piece rests after what was finished last: oil settles, a reserve runs down. None: no longer."""
    done = [row.line for row in rows if row.line.finished_at]
    last = max(done, key=lambda line: (line.finished_at, line.position), default=None)
    until = last.finished_at + timedelta(hours=last.wait_hours) if last and last.finished_at else None
    return until if until and until > now else None


def _next_of(lacks: Sequence[Missing], left: Sequence[Operation]) -> str | Promise:
    """A test that failed comes before any work, work of the bench before the control's own, and both before readings."""
    found = {one.lack for one in lacks}
    if Lack.FAILED in found:
        return NEXT_LACKING[Lack.FAILED]
    to_do = [Operation(one.what) for one in lacks if one.lack is Lack.OPERATION]
    elsewhere = _elsewhere(lacks, left)
    if elsewhere:
        operation = str(OPERATIONS[Operation(elsewhere[0].what)])
        return _("Next: back to the bench, since this is not finished: %(operation)s.") % {"operation": operation}
    if to_do:
        return _("Next: %(operation)s.") % {"operation": str(OPERATIONS[to_do[0]])}
    return next(words for lack, words in NEXT_LACKING.items() if lack in found)


def cautions_of(order: WorkOrder) -> list[str | Promise]:
    """What to take care of at this very piece; nothing where neither its age nor its winding calls for it."""
    piece = order.piece
    calibre = piece.model.calibre if piece.model else None
    winding = Winding(calibre.winding) if calibre and calibre.winding else None
    asked = [Asked.BATTERY] if order.kind == EntryKind.BATTERY else []
    found = cautions_for(made_on=piece.made_on, winding=winding, asked=asked)
    return [CAUTIONS_OF_PIECE[one] for one in found] if len(found) > 1 else []


def bench_away_until(order: WorkOrder, day: date) -> date | None:
    """Until when the watchmaker is away on whose bench the order lies; None where they are there. One statement."""
    if order.bench_id is None or order.step != Step.ON_THE_BENCH:
        return None
    return away_until([order.bench_id], day).get(order.bench_id)
