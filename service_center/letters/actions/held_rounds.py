"""Letting the letters of a round go, or taking them back."""

from collections.abc import Callable, Iterator
from datetime import date

from django.db import transaction
from django.db.models import QuerySet
from django.db.models.functions import Now

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters.actions.ending import end
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter, Reminder, Round
from service_center.letters.rules.words import LetterState, RoundDecision

LETTERS_AT_ONCE = 2_000
TAKEN_BACK = "the desk took the round back"


class AlreadyDecided(Exception):  # noqa: N818  # a refusal, named for what was found
    """Somebody decided about the round meanwhile. The message names the decision."""


def let_letters_go(this: Round) -> int:
    """Let a round's held letters wait for their mornings. How many. Some thousands a transaction; may be repeated."""
    return _each_lot(this, lambda lot: lot.update(state=LetterState.WAITING, reason=""))


def let_round_go(this: Round, *, by: Staff) -> int:
    """The desk's word: the held letters of an unusual round go out. How many. Raises AlreadyDecided."""
    _decide(this, RoundDecision.LET_GO, by=by)
    count = let_letters_go(this)
    ring_after_commit()
    return count


def take_round_back(this: Round, *, on: date, by: Staff) -> int:
    """The desk's word: the held letters of an unusual round end, and their reminders with them. How many letters.

    A later round may take the reminders up again, where they are still due. Raises AlreadyDecided.
    """
    _decide(this, RoundDecision.TAKEN_BACK, by=by)
    return _each_lot(this, lambda lot: _take_back(lot, on))


def _decide(this: Round, decision: RoundDecision, *, by: Staff) -> None:
    """Write the decision down. The same one again is right: the deed that follows it may have been cut off."""
    with transaction.atomic():
        finished = Round.objects.filter(pk=this.pk, finished_at__isnull=False).exclude(unusual="")
        if finished.filter(decision="").update(decision=decision, decided_at=Now(), decided_by=by):
            leave_trail(
                by=by,
                deed=f"round_{decision.value}",
                subject=f"round:{this.pk}",
                before={"unusual": this.unusual, "letters": this.letters},
                after={"decision": decision.value},
            )
        elif not finished.filter(decision=decision).exists():
            raise AlreadyDecided(Round.objects.values_list("decision", flat=True).get(pk=this.pk))


def _take_back(lot: QuerySet[Letter], on: date) -> int:
    letters = list(lot.values_list("pk", flat=True))
    end(Reminder.objects.filter(letter__in=letters, ended_on=None), on=on, because=TAKEN_BACK)
    return len(letters)


def _each_lot(this: Round, deed: Callable[[QuerySet[Letter]], int]) -> int:
    count = 0
    for lot in _lots(this):
        with transaction.atomic():
            held = Letter.objects.filter(pk__in=lot, state=LetterState.HELD).order_by("pk")
            locked = list(held.select_for_update(no_key=True).values_list("pk", flat=True))
            count += deed(Letter.objects.filter(pk__in=locked))
    return count


def _lots(this: Round) -> Iterator[list[int]]:
    """The round's held letters, some thousands at a time. What is done with a lot takes it out of the next."""
    last = 0
    held = Letter.objects.filter(round=this, state=LetterState.HELD).order_by("pk").values_list("pk", flat=True)
    while lot := list(held.filter(pk__gt=last)[:LETTERS_AT_ONCE]):
        yield lot
        last = lot[-1]
