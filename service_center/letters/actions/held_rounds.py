"""Letting the letters of a round go, or taking them back."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet
from django.db.models.functions import Now

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters.actions.ending import end
from service_center.letters.actions.held_lots import each_lot
from service_center.letters.actions.late import let_wait
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter, Reminder, Round
from service_center.letters.queries.held_rounds import letters_left
from service_center.letters.rules.words import LetterState, RoundDecision

TAKEN_BACK = "the desk took the round back"


class AlreadyDecided(Exception):  # noqa: N818  # a refusal, named for what was found
    """Somebody decided about the round meanwhile. The message names the decision."""


def let_letters_go(this: Round, *, now: datetime | None) -> int:
    """Let a round's held letters wait for their mornings. How many. Some thousands a transaction; may be repeated.

    With `now` those whose morning has passed wait for the next one; None where a person asked for that day.
    Those that are held for a reason of their own wait for another word: after a restore (actions.after_restore), or
    prepared for the telephone since they came back (actions.reaching).
    """
    if now is not None:
        return each_lot(letters_left(this), lambda lot: let_wait(lot, reason="", now=now))
    return each_lot(letters_left(this), lambda lot: lot.update(state=LetterState.WAITING, reason=""))


def let_round_go(this: Round, *, by: Staff, now: datetime) -> int:
    """The desk's word: the held letters of an unusual round go out, each in a morning of its owner. How many.

    Raises AlreadyDecided.
    """
    _decide(this, RoundDecision.LET_GO, by=by)
    count = let_letters_go(this, now=now)
    ring_after_commit()
    return count


def take_round_back(this: Round, *, on: date, by: Staff) -> int:
    """The desk's word: the held letters of an unusual round end, and their reminders with them. How many letters.

    A later round may take the reminders up again, where they are still due. Raises AlreadyDecided.
    """
    _decide(this, RoundDecision.TAKEN_BACK, by=by)
    return each_lot(letters_left(this), lambda lot: _take_back(lot, on))


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
