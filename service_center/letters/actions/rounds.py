"""The daily pass: due dates become reminders, reminders become letters, once (design/letters.md)."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Now

from service_center.intervals.actions import bring_to
from service_center.letters.actions.held_rounds import let_letters_go
from service_center.letters.actions.writing import Wrote, write_letters
from service_center.letters.calendars import working_days
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.faults import fault
from service_center.letters.models import Letter, Round
from service_center.letters.queries.held_rounds import rounds_are_held_after_restore, rounds_before
from service_center.letters.queries.rounds import (
    OwnerBeforeRound,
    held_for_writing,
    look_for_owners,
    owners_before_round,
    within_reach,
)
from service_center.letters.rules.deciding import Decision, Reason, decide
from service_center.letters.rules.mornings import round_day
from service_center.letters.rules.restored import AFTER_RESTORE
from service_center.letters.rules.unusual import Asked, Before, unusual_day, unusually_many, usual_letters
from service_center.letters.rules.words import LetterState, Unusual
from service_center.letters.spool import NotWrittenSpool

# Owners in one transaction: well under the fifth of a second that other writers on SQLite should wait at most.
OWNERS_AT_ONCE = 200
# A round that began and never said that it ended was killed; the next one finds what is left.
ROUND_MAY_TAKE = timedelta(minutes=15)
# Those that are held after a restore wait for another word (after_restore.hold_waiting).
NOT_LET_GO = Q(state=LetterState.HELD) & ~Q(reason=AFTER_RESTORE)


@dataclass(slots=True)
class RoundResult:
    """How many reminders and letters a round wrote, and for which pieces it wrote none though something was to go.

    `held`: why the letters wait for the desk's word, if they do.
    """

    reminders: int = 0
    letters: int = 0
    not_written: NotWrittenSpool = field(default_factory=NotWrittenSpool)
    held: Unusual | None = None


def daily_round(*, as_of: date, now: datetime, asked: Asked = Asked.BY_HAND, dry_run: bool = False) -> RoundResult:
    """One pass over the book for a day. In any order and however often repeated, nothing is written twice.

    Nothing that it writes may be handed over before it has ended; an unusual round stays held until the desk lets it
    go (rules.unusual). A dry run says what a round would do, and changes nothing.
    """
    before = rounds_before()
    held = unusual_day(as_of, before, asked)
    if dry_run:
        with transaction.atomic():
            result = _round(as_of, None, may_join=held is None)
            transaction.set_rollback(True)
        result.held = held or _many(result.letters, before, asked)
        return result
    this = Round.objects.create(day=as_of, started_at=now, compared_with=before.last_day)
    fault("round_begun")
    result = _round(as_of, this, may_join=held is None)
    fault("round_ending")
    _finish(this, result, held, before, asked, now)
    return result


def round_of_the_day(*, now: datetime) -> RoundResult | None:
    """Run the round of the day that begins somewhere on earth, unless it has run or is running. None: it had."""
    day = round_day(now)
    rounds = Round.objects.filter(day=day)
    running = rounds.filter(finished_at=None, started_at__gt=now - ROUND_MAY_TAKE)
    if rounds.exclude(finished_at=None).exists() or running.exists():
        return None
    return daily_round(as_of=day, now=now, asked=Asked.BY_CLOCK)


def _round(as_of: date, this: Round | None, *, may_join: bool) -> RoundResult:
    """Decide for everybody, and write where there is a round to write for."""
    bring_to(as_of=as_of)
    fault("round_brought")
    result = RoundResult()
    owners = look_for_owners(as_of, result.not_written.add)
    for at in range(0, len(owners), OWNERS_AT_ONCE):
        with transaction.atomic():
            ids = owners[at : at + OWNERS_AT_ONCE]
            some = held_for_writing(ids) if this else within_reach(ids)
            chosen = _decide(owners_before_round(some, as_of), as_of, result, may_join=may_join)
            wrote = write_letters(chosen, as_of, this) if this else _would_write(chosen)
            fault("round_batch")
        result.reminders += wrote.reminders
        result.letters += wrote.letters
    return result


def _decide(
    befores: Sequence[OwnerBeforeRound], as_of: date, result: RoundResult, *, may_join: bool
) -> list[tuple[OwnerBeforeRound, Decision]]:
    chosen = []
    for before in befores:
        decision = decide(before.side, as_of, working_days(before.country))
        if decision.joins is not None and not may_join:
            # What waits goes out in the morning; what is held must not go with it.
            decision = decision.left_out(Reason.LETTER_ON_ITS_WAY, as_of)
        for one in decision.not_written:
            result.not_written.add(one)
        if decision.reminders:
            chosen.append((before, decision))
    return chosen


def _would_write(chosen: Sequence[tuple[OwnerBeforeRound, Decision]]) -> Wrote:
    return Wrote(
        sum(len(decision.reminders) for _before, decision in chosen),
        sum(1 for _before, decision in chosen if decision.joins is None),
    )


def _finish(
    this: Round, result: RoundResult, held: Unusual | None, before: Before, asked: Asked, now: datetime
) -> None:
    """Take over what rounds left that were killed, look whether all of it is usual, and let it go where it is."""
    if not before.restored and rounds_are_held_after_restore():
        held = Unusual.RESTORED  # a backup was brought back meanwhile: whoever asked had not looked at that
    _take_over(this, held, before, asked, now)
    result.held = held or (_many(_to_go(this), before, asked) if _not_let_go(this).exists() else None)
    if result.held is None:
        let_letters_go(this, now=now if asked is Asked.BY_CLOCK else None)
    Round.objects.filter(pk=this.pk).update(
        finished_at=Now(),
        reminders=result.reminders,
        letters=Letter.objects.filter(round=this).exclude(state=LetterState.ENDED).count(),
        unusual=result.held.value if result.held else "",
        usual_letters=usual_letters(before, at_least=settings.ROUND_LETTERS_USUAL),
    )
    ring_after_commit()


def _take_over(this: Round, held: Unusual | None, before: Before, asked: Asked, now: datetime) -> None:
    """What rounds left that were killed goes with this one; but one of an unusual day is shown to the desk by itself."""
    given_up = Q(day=this.day) | Q(started_at__lt=now - ROUND_MAY_TAKE)
    killed = Exists(Letter.objects.filter(NOT_LET_GO, round=OuterRef("pk")))
    for one in Round.objects.filter(killed, given_up, finished_at=None).exclude(pk=this.pk):
        unusual = unusual_day(one.day, replace(before, last_day=one.compared_with), asked)
        if held is None and unusual:
            letters = Letter.objects.filter(round=one).exclude(state=LetterState.ENDED).count()
            Round.objects.filter(pk=one.pk).update(finished_at=Now(), letters=letters, unusual=unusual.value)
        else:
            _not_let_go(one).update(round=this)


def _not_let_go(this: Round) -> QuerySet[Letter]:
    return Letter.objects.filter(NOT_LET_GO, round=this)


def _to_go(this: Round) -> int:
    """How many letters a round lets go, and others of its day: rounds beside each other are measured together."""
    of_day = Letter.objects.filter(planned_on=this.day, round__isnull=False).exclude(state=LetterState.ENDED)
    return of_day.count() + _not_let_go(this).exclude(planned_on=this.day).count()


def _many(letters: int, before: Before, asked: Asked) -> Unusual | None:
    many = unusually_many(letters, before, asked, at_least=settings.ROUND_LETTERS_USUAL)
    return Unusual.MANY if many else None
