"""Rounds: what is usual, those that the desk is to look at, and what stands in them."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Exists, F, Max, Min, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from service_center.book.rules import ServiceKind
from service_center.letters.models import Letter, Reminder, Round, RoundsHeld
from service_center.letters.rules.unusual import BY_ROUND, ROUNDS_LOOKED_AT, Before
from service_center.letters.rules.words import LetterState, RoundDecision, Step

EXAMPLES = 12
# What waits for a word about its round; a letter of it that is held since for a reason of its own waits for another.
LEFT = Q(state=LetterState.HELD, reason=BY_ROUND)
COUNTS = Q(Q(unusual="") | Q(decision=RoundDecision.LET_GO), finished_at__isnull=False)


@dataclass(frozen=True, slots=True)
class StepCount:
    """How many reminders of a kind and step a round wrote."""

    kind: ServiceKind
    step: Step
    reminders: int


def rounds_before() -> Before:
    """The rounds so far that count for what is usual. Three statements, by index."""
    counting = Round.objects.filter(COUNTS).order_by("-pk")
    latest = list(counting.values_list("day", "letters")[:ROUNDS_LOOKED_AT])
    most = max((letters for _day, letters in latest), default=0)
    return Before(
        last_day=latest[0][0] if latest else None,
        most_letters=most,
        ever_wrote=most > 0 or counting.filter(letters__gt=0).exists(),
        restored=rounds_are_held_after_restore(),
    )


def rounds_are_held_after_restore() -> bool:
    """Whether the next round is held because a backup was brought back. One statement, by index.

    From a restore on, until the desk says that letters go on, or lets a round go that the backup did not have.
    """
    since = Round.objects.filter(COUNTS, pk__gt=Coalesce(OuterRef("last_round"), 0))
    return RoundsHeld.objects.filter(~Exists(since), released_at=None).exists()


def held_rounds() -> QuerySet[Round]:
    """Rounds whose letters wait for the desk's word, the latest first; also those whose decision was cut off."""
    held = Letter.objects.filter(LEFT, round=OuterRef("pk"))
    return Round.objects.filter(Exists(held), finished_at__isnull=False).exclude(unusual="").order_by("-pk")


def letters_left(one: Round) -> QuerySet[Letter]:
    """Those of a round that wait for a word about it still."""
    return Letter.objects.filter(LEFT, round=one)


def latest(number: int) -> list[Round]:
    """The latest rounds that have ended, newest first."""
    return list(Round.objects.filter(finished_at__isnull=False).order_by("-pk")[:number])


def counts_of(one: Round) -> list[StepCount]:
    """What a round's letters remind of, by kind and step. Two statements.

    A round's letters follow each other closely. Told so, the database reads their reminders by index, not everybody's.
    """
    number = F("pk") + 0  # or PostgreSQL looks for the ends among everybody's letters, one by one
    span = Letter.objects.filter(round=one).aggregate(first=Min(number), last=Max(number))
    if span["first"] is None:
        return []
    near = Reminder.objects.filter(letter__gte=span["first"], letter__lte=span["last"])
    rows = near.filter(letter__round=one, ended_on=None).order_by("kind", "step")
    return [
        StepCount(ServiceKind(kind), Step(step), reminders)
        for kind, step, reminders in rows.values_list("kind", "step").annotate(n=Count("pk"))
    ]


def languages_of(one: Round) -> list[tuple[str, int]]:
    """How many letters of a round are in which language, the most first."""
    rows = Letter.objects.filter(round=one).exclude(state=LetterState.ENDED).order_by()
    return list(rows.values_list("language").annotate(n=Count("pk")).order_by("-n", "language"))


def examples_of(one: Round) -> Sequence[Letter]:
    """Some letters of a round: the first, the last and others from between, as they were written."""
    rows = Letter.objects.filter(round=one).exclude(state=LetterState.ENDED)
    ids = list(rows.order_by("pk").values_list("pk", flat=True)[:: max(1, one.letters // EXAMPLES)][:EXAMPLES])
    return list(Letter.objects.filter(pk__in=ids).select_related("owner").order_by("pk"))
