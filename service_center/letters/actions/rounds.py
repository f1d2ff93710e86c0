"""The daily pass: due dates become reminders, reminders become letters, once (design/letters.md)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models.functions import Now

from service_center.book.wording import language_of
from service_center.intervals.actions import bring_to
from service_center.letters.calendars import working_days
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.faults import fault
from service_center.letters.models import Letter, Reminder, Round
from service_center.letters.queries.rounds import (
    OwnerBeforeRound,
    out_of_reach_today,
    owners_before_round,
    owners_with_something_to_come,
)
from service_center.letters.rules.deciding import Decision, NotWritten, decide
from service_center.letters.rules.mornings import morning_of, round_day
from service_center.letters.rules.steps import Planned
from service_center.letters.rules.words import LetterState

# Owners in one transaction: well under the fifth of a second that other writers on SQLite should wait at most.
OWNERS_AT_ONCE = 200
# A round that began and never said that it ended was killed; the next one finds what is left.
ROUND_MAY_TAKE = timedelta(minutes=15)

Key = tuple[int, str, date, str]


@dataclass(slots=True)
class RoundResult:
    """How many reminders and letters a round wrote, and for which pieces it wrote none though something was to go."""

    reminders: int = 0
    letters: int = 0
    not_written: list[NotWritten] = field(default_factory=list)


def daily_round(*, as_of: date, now: datetime, dry_run: bool = False) -> RoundResult:
    """One pass over the book for a day. In any order and however often repeated, nothing is written twice.

    A dry run does all of it and takes it back.
    """
    if dry_run:
        with transaction.atomic():
            result = _round(as_of)
            transaction.set_rollback(True)
        return result
    this = Round.objects.create(day=as_of, started_at=now)
    fault("round_begun")
    result = _round(as_of)
    fault("round_ending")
    Round.objects.filter(pk=this.pk).update(finished_at=Now(), reminders=result.reminders, letters=result.letters)
    return result


def round_of_the_day(*, now: datetime) -> RoundResult | None:
    """Run the round of the day that begins somewhere on earth, unless it has run or is running. None: it had."""
    day = round_day(now)
    rounds = Round.objects.filter(day=day)
    running = rounds.filter(finished_at=None, started_at__gt=now - ROUND_MAY_TAKE)
    if rounds.exclude(finished_at=None).exists() or running.exists():
        return None
    return daily_round(as_of=day, now=now)


def _round(as_of: date) -> RoundResult:
    bring_to(as_of=as_of)
    fault("round_brought")
    result = RoundResult()
    owners = owners_with_something_to_come(as_of)
    for at in range(0, len(owners), OWNERS_AT_ONCE):
        with transaction.atomic():
            _write(owners[at : at + OWNERS_AT_ONCE], as_of, result)
            fault("round_batch")
    result.not_written += out_of_reach_today(as_of)
    result.not_written.sort(key=lambda one: (one.serial, one.reason))
    return result


def _write(owner_ids: Sequence[int], as_of: date, result: RoundResult) -> None:
    """Decide and write the letters of some owners, in the caller's transaction."""
    chosen: list[tuple[OwnerBeforeRound, Decision]] = []
    for before in owners_before_round(owner_ids, as_of):
        decision = decide(before.side, as_of, working_days(before.country))
        result.not_written += decision.not_written
        if decision.reminders:
            chosen.append((before, decision))
    letters = _letters_for(chosen, as_of)
    wanted = [
        (letter, planned)
        for (_before, decision), letter in zip(chosen, letters, strict=True)
        if letter is not None
        for planned in decision.reminders
    ]
    if not wanted:
        return
    _put_into(wanted)
    in_letters = Reminder.objects.filter(letter__in=[letter for letter, _planned in wanted], ended_on=None)
    keys = {_key(planned) for _letter, planned in wanted}
    written = [row for row in in_letters if (row.piece_id, row.kind, row.starts_on, row.step) in keys]
    carrying = {row.letter_id for row in written}
    fresh = [
        letter
        for (_before, decision), letter in zip(chosen, letters, strict=True)
        if letter is not None and decision.joins is None
    ]
    # A reminder that somebody else wrote first (a piece changed hands meanwhile) leaves this letter empty.
    Letter.objects.filter(pk__in=[letter.pk for letter in fresh if letter.pk not in carrying]).delete()
    result.reminders += len(written)
    result.letters += sum(1 for letter in fresh if letter.pk in carrying)
    ring_after_commit()


def _letters_for(chosen: Iterable[tuple[OwnerBeforeRound, Decision]], as_of: date) -> list[Letter | None]:
    """A letter for each decision: a new one, or the one it joins. None where that has left the queue meanwhile."""
    letters: list[Letter | None] = []
    fresh: list[Letter] = []
    for before, decision in chosen:
        if decision.joins is not None:
            letters.append(_still_waiting(decision.joins))
            continue
        letter = Letter(
            owner=before.owner,
            language=language_of(before.owner),
            planned_on=as_of,
            not_before=morning_of(as_of, before.zone),
        )
        fresh.append(letter)
        letters.append(letter)
    Letter.objects.bulk_create(fresh)
    return letters


def _still_waiting(letter: int) -> Letter | None:
    """The letter, with its row held so that no sender claims it before the reminders are in."""
    return (
        Letter.objects.filter(pk=letter, state=LetterState.WAITING.value, attempt=0)
        .select_for_update(no_key=True)
        .first()
    )


def _put_into(wanted: Sequence[tuple[Letter, Planned]]) -> None:
    """Write the reminders. One that ended before it went out is taken up again; one that lives stays where it is."""
    ended: dict[Key, Reminder] = {
        (row.piece_id, row.kind, row.starts_on, row.step): row
        for row in Reminder.objects.filter(
            piece__in={planned.service.piece for _letter, planned in wanted}, ended_on__isnull=False
        )
    }
    new = []
    for letter, planned in wanted:
        before = ended.get(_key(planned))
        if before is None:
            new.append(
                Reminder(
                    piece_id=planned.service.piece,
                    kind=planned.service.kind.value,
                    starts_on=planned.starts_on,
                    step=planned.step.value,
                    letter=letter,
                    due_on=planned.service.due_on,
                )
            )
        else:
            Reminder.objects.filter(pk=before.pk, ended_on__isnull=False).update(
                letter=letter, due_on=planned.service.due_on, ended_on=None, ended_because=""
            )
    Reminder.objects.bulk_create(new, ignore_conflicts=True)


def _key(planned: Planned) -> Key:
    return planned.service.piece, planned.service.kind.value, planned.starts_on, planned.step.value
