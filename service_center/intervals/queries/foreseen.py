"""What a look ahead tells people: how many due dates move, by how much, by month, and some pieces by name."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.db.models import Count, F, Q, QuerySet
from django.db.models.functions import TruncMonth

from service_center.book.rules import ServiceKind
from service_center.intervals.models import ForeseenDue
from service_center.intervals.queries.facts import facts_of
from service_center.intervals.queries.foreseeing import foreseen
from service_center.intervals.queries.look import Look
from service_center.intervals.rules import PieceFacts, Rule, add_months, because, due_dates

EXAMPLES = 10
MONTHS_SHOWN = 24

APPEARS = Q(applied=False, applies=True)
VANISHES = Q(applied=True, applies=False)
EARLIER, LATER = Q(due_after__lt=F("due_before")), Q(due_after__gt=F("due_before"))
SIDES = Q(due_after=F("due_before")) & (~Q(opens_after=F("opens_before")) | ~Q(closes_after=F("closes_before")))


@dataclass(frozen=True, slots=True)
class Moves:
    """Due dates that move one way: how many, and by how many months. The least, the middle one, the most."""

    count: int = 0
    smallest: int = 0
    median: int = 0
    largest: int = 0


@dataclass(frozen=True, slots=True)
class Month:
    """Due days and invitations of one month, before and after. `first_day` None: all that lies before this month."""

    first_day: date | None
    due_before: int = 0
    due_after: int = 0
    invited_before: int = 0
    invited_after: int = 0


@dataclass(frozen=True, slots=True)
class Invitations:
    """Invitations from `as_of` to `until`: how many come that were not to come, fall away, or would go out at once."""

    until: date
    appear: int
    vanish: int
    at_once: int


@dataclass(frozen=True, slots=True)
class Example:
    """One due date by name; days and sentences are empty where the kind does not apply."""

    piece: int
    serial: str
    kind: ServiceKind
    due_before: date | None
    due_after: date | None
    why_before: str
    why_after: str


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What a change would do. `sides`: due stays, opens or closes moves. `by_months`: earlier ones are negative."""

    pieces: int
    counted: int
    without_start: int
    earlier: Moves
    later: Moves
    sides: int
    appear: int
    vanish: int
    by_months: tuple[tuple[int, int], ...]
    months: tuple[Month, ...]
    invitations: Invitations
    examples: tuple[Example, ...]

    @property
    def moved(self) -> int:
        """How many due days move, either way."""
        return self.earlier.count + self.later.count

    @property
    def same(self) -> int:
        """How many due dates stay as they are in every way."""
        return self.counted - self.moved - self.sides - self.appear - self.vanish


def foresee(look: Look, *, reachable: Q) -> Foreseen:
    """What other rules would make of the stored due dates. `reachable`: the rows (of ForeseenDue) that may be invited.

    The statements of `foreseeing.foreseen`, and a dozen that count.
    """
    with foreseen(look) as pieces:
        rows = ForeseenDue.objects.all()
        totals = rows.aggregate(
            counted=Count("pk"),
            without_start=Count("pk", filter=Q(starts_on=None)),
            sides=Count("pk", filter=SIDES),
            appear=Count("pk", filter=APPEARS),
            vanish=Count("pk", filter=VANISHES),
        )
        moved = rows.filter(EARLIER | LATER).values_list("months").annotate(count=Count("pk")).order_by("months")
        by_months = {months or 0: count for months, count in moved}
        # A trend may move a day by less than half a month: it is told by the way it went.
        earlier = rows.filter(EARLIER).aggregate(count=Count("pk"))["count"]
        later = rows.filter(LATER).aggregate(count=Count("pk"))["count"]
        invited = rows.filter(reachable)
        return Foreseen(
            pieces=pieces,
            **totals,
            earlier=_moves({-months: count for months, count in by_months.items() if months <= 0}, earlier),
            later=_moves({months: count for months, count in by_months.items() if months >= 0}, later),
            by_months=tuple(by_months.items()),
            months=_by_month(rows, invited, look.as_of),
            invitations=_invitations(invited, look.as_of),
            examples=_examples(rows, look),
        )


def _moves(by_months: dict[int, int], count: int) -> Moves:
    found = sorted(by_months.items())
    if not count or not found:
        return Moves(count=count)
    # Which of the halves of a month went which way is not counted; the middle one is found among all of them.
    middle, passed = (sum(many for _months, many in found) + 1) // 2, 0
    median = found[-1][0]
    for months, many in found:
        passed += many
        if passed >= middle:
            median = months
            break
    return Moves(count, found[0][0], median, found[-1][0])


def _by_month(rows: QuerySet[ForeseenDue], invited: QuerySet[ForeseenDue], as_of: date) -> tuple[Month, ...]:
    this = as_of.replace(day=1)
    shown: list[date | None] = [None, *(add_months(this, ahead) for ahead in range(MONTHS_SHOWN))]
    due_before, due_after = (_months_of(rows, field) for field in ("due_before", "due_after"))
    invited_before, invited_after = (_months_of(invited, field) for field in ("invited_before", "invited_after"))

    def of(counts: Counter[date], month: date | None) -> int:
        return sum(count for day, count in counts.items() if day < this) if month is None else counts[month]

    return tuple(
        Month(
            month,
            of(due_before, month),
            of(due_after, month),
            # What should have gone out long ago goes out now: it stands in this month.
            *(
                0 if month is None else of(counts, month) + (of(counts, None) if month == this else 0)
                for counts in (invited_before, invited_after)
            ),
        )
        for month in shown
    )


def _months_of(rows: QuerySet[ForeseenDue], field: str) -> Counter[date]:
    found = rows.filter(**{f"{field}__isnull": False}).annotate(month=TruncMonth(field)).values_list("month")
    return Counter(dict(found.annotate(count=Count("pk")).order_by("month")))


def _invitations(invited: QuerySet[ForeseenDue], as_of: date) -> Invitations:
    until = add_months(as_of, 12)
    came, comes = Q(invited_before__lte=until), Q(invited_after__lte=until)
    not_before = Q(invited_before=None) | Q(invited_before__gt=until)
    not_after = Q(invited_after=None) | Q(invited_after__gt=until)
    at_once = Q(invited_after__lte=as_of) & (Q(invited_before=None) | Q(invited_before__gt=as_of))
    counts = invited.aggregate(
        appear=Count("pk", filter=comes & not_before),
        vanish=Count("pk", filter=came & not_after),
        at_once=Count("pk", filter=at_once),
    )
    return Invitations(until, **counts)


def _examples(rows: QuerySet[ForeseenDue], look: Look) -> tuple[Example, ...]:
    """Those whose new day comes next; then those that vanish. Seven statements at most."""
    touched = rows.filter(EARLIER | LATER | APPEARS | VANISHES | SIDES)
    ahead = touched.filter(due_after__gte=look.as_of).order_by("due_after", "pk")[:EXAMPLES]
    chosen = {row.pk: row for row in ahead}
    if len(chosen) < EXAMPLES:
        others = touched.exclude(pk__in=chosen).order_by(F("due_after").desc(nulls_last=True), "pk")
        chosen |= {row.pk: row for row in others[: EXAMPLES - len(chosen)]}
    facts = {pk: one.known_on(look.as_of) for pk, one in facts_of({row.piece_id for row in chosen.values()}).items()}
    return tuple(
        Example(
            piece=row.piece_id,
            serial=facts[row.piece_id].serial,
            kind=ServiceKind(row.kind),
            due_before=row.due_before,
            due_after=row.due_after,
            why_before=_why(row, facts, look, look.before),
            why_after=_why(row, facts, look, look.after),
        )
        for row in chosen.values()
    )


def _why(row: ForeseenDue, facts: dict[int, PieceFacts], look: Look, rules: Sequence[Rule]) -> str:
    found = due_dates(facts[row.piece_id], rules, look.on, shelf_months=settings.SHELF_MONTHS)
    return next((because(due, look.on).sentence for due in found if due.kind == row.kind), "")
