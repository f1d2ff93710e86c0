"""What matters today."""

from dataclasses import dataclass
from datetime import date, datetime, time

from django.db.models import F, OuterRef, QuerySet, Subquery
from django.utils import timezone

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Custody, Piece
from service_center.book.rules import Place
from service_center.intervals.queries import AT_MOST, DueFilters, counts_by_state
from service_center.intervals.rules import State
from service_center.letters.models import Letter
from service_center.letters.queries.listing import to_see_to
from service_center.letters.queries.orders import orders_to_tell
from service_center.letters.rules.words import LetterState
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.rules import RequestState
from service_center.workshop.orders.queries.listing import counts_by_step
from service_center.workshop.orders.rules.steps import Step

STATES_TO_SEE = (State.OVERDUE, State.OWED, State.DUE, State.IN_WINDOW)
# Letters that need a person, then those that will go by themselves.
LETTERS_TO_SEE = (LetterState.IN_DOUBT, LetterState.REFUSED, LetterState.HELD, LetterState.WAITING)


@dataclass(frozen=True, slots=True)
class Count:
    """How many there are, counted no further than 10,000: beyond that the exact number costs more than it tells."""

    number: int
    more: bool

    def __str__(self) -> str:
        return f"{self.number:,}+" if self.more else f"{self.number:,}"


def due_counts(as_of: date, *, boutique: str | None) -> dict[str, Count]:
    """How many due dates stand in each state that asks for something; one statement a state, each with an end."""
    counts = counts_by_state(DueFilters(boutique=boutique), as_of, states=STATES_TO_SEE)
    return {state.value: _capped(number) for state, number in counts.items()}


def letter_counts() -> dict[str, Count]:
    """Letters that need a person, or wait for their hour; one statement a state, by index."""
    return {state.value: _count(to_see_to(state)) for state in LETTERS_TO_SEE}


@dataclass(frozen=True, slots=True)
class Waiting:
    """Owners' requests that nobody has answered: how many, and the first day by which one must be."""

    count: Count
    first_due_on: date | None


def waiting_requests() -> Waiting:
    """Two statements, by index."""
    waiting = OwnerRequest.objects.filter(state=RequestState.OPEN)
    first = waiting.order_by("due_on", "pk").values_list("due_on", flat=True).first()
    return Waiting(_count(waiting), first)


def in_the_house(staff: Staff) -> QuerySet[Piece]:
    """Pieces not with their owners, the longest here first, with `since` and `at_boutique`. One statement."""
    latest = Custody.objects.filter(piece=OuterRef("pk")).order_by("-since", "-pk")
    pieces = Piece.objects.exclude(place=Place.OWNER).annotate(
        since=Subquery(latest.values("since")[:1]),
        at_boutique=Subquery(latest.values("boutique__name")[:1]),
        at_boutique_code=Subquery(latest.values("boutique__code")[:1]),
    )
    if staff.role == Role.BOUTIQUE:
        pieces = pieces.filter(place=Place.BOUTIQUE, at_boutique_code=staff.boutique)
    return pieces.select_related("model", "owner").order_by(F("since").asc(nulls_first=True), "pk")


@dataclass(frozen=True, slots=True)
class OrdersToday:
    """Of the orders in the house: how many are late, wait for an estimate or for their owner's word, can be fetched,
    and of how many nobody has told the owner what there is to tell."""

    late: int
    diagnosed: int
    asked: int
    ready: int
    without_word: int


def orders_today(staff: Staff, as_of: date) -> OrdersToday:
    """Four statements, over the orders in the house."""
    steps = {one.step: one for one in counts_by_step(staff, as_of)}
    return OrdersToday(
        late=sum(one.late for one in steps.values()),
        diagnosed=steps[Step.DIAGNOSED].orders,
        asked=steps[Step.ESTIMATED].orders,
        ready=steps[Step.READY].orders,
        without_word=len(orders_to_tell()),
    )


def taken_in_since(monday: date, staff: Staff) -> Count:
    """How many pieces came to a counter since a Monday: all counters', or the boutique's own. One statement."""
    began = timezone.make_aware(datetime.combine(monday, time.min))
    moves = Custody.objects.filter(since__gte=began, place=Place.BOUTIQUE)
    if staff.role == Role.BOUTIQUE:
        moves = moves.filter(boutique__code=staff.boutique)
    return _count(moves)


def _count(rows: QuerySet[Letter] | QuerySet[Custody] | QuerySet[OwnerRequest]) -> Count:
    return _capped(rows.order_by().values("pk")[: AT_MOST + 1].count())


def _capped(number: int) -> Count:
    return Count(min(number, AT_MOST), more=number > AT_MOST)
