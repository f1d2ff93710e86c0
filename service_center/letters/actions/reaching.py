"""Owners whom no letter reaches by mail: the same letter for the telephone or on paper (design/letters.md)."""

import secrets
from datetime import UTC, date, datetime, time

from django.db import transaction
from django.db.models import QuerySet

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Owner
from service_center.book.wording import language_of
from service_center.letters.actions.ending import end
from service_center.letters.actions.writing import put_into
from service_center.letters.composing.letter import Links, links_for
from service_center.letters.models import Letter, OwnerLink, ReachedOtherwise, Reminder
from service_center.letters.queries.reaching import decision_for
from service_center.letters.queries.unsaid import is_unsaid, still_to_say
from service_center.letters.rules.links import LINKS_LAST, SECRET_BYTES, hash_token
from service_center.letters.rules.words import Channel, LetterState, LinkPurpose

PREPARED = "prepared, to be told or sent on paper"
SETTLED = "settled or held before the owner was reached"
NOT_REACHED = "the desk put it back: the owner was not reached"


class NothingToSay(Exception):  # noqa: N818  # a refusal, named for what was found
    """There is nothing to tell this owner today, or somebody else prepared it, or a letter reaches them by mail."""


class NotPrepared(Exception):  # noqa: N818  # a refusal, named for what was found
    """The letter is not one that waits to be told or sent on paper. The message names the state it is in."""


@transaction.atomic
def prepare(owner: Owner, *, as_of: date, by: Staff) -> Letter:
    """Write the letter that would go to an owner today, for the telephone or on paper: held, never mailed.

    Its reminders have the keys of any letter's, so that none of them is written or mailed a second time. Raises
    NothingToSay.
    """
    owner = Owner.objects.select_for_update(no_key=True).get(pk=owner.pk)
    decision = decision_for(owner, as_of)
    if decision is None or not decision.reminders:
        raise NothingToSay
    letter = _written(owner, as_of) if decision.joins is None else _kept_from_going(decision.joins)
    put_into([(letter, planned) for planned in decision.reminders])
    if not Reminder.objects.filter(letter=letter, ended_on=None).exists():
        raise NothingToSay
    _leave_trail(letter, "letter_prepared", {"state": LetterState.HELD.value}, by=by)
    return letter


def _written(owner: Owner, as_of: date) -> Letter:
    return Letter.objects.create(
        owner=owner,
        channel=Channel.PAPER.value,
        language=language_of(owner),
        planned_on=as_of,
        state=LetterState.HELD.value,
        reason=PREPARED,
        not_before=_noon(as_of),
    )


def _kept_from_going(waits: int) -> Letter:
    """The letter that waits in vain since its owner's address went: it is the one to be told or posted."""
    waiting = Letter.objects.filter(pk=waits, state=LetterState.WAITING, attempt=0)
    letter = waiting.select_for_update(no_key=True).first()
    if letter is None:
        raise NothingToSay
    Letter.objects.filter(pk=letter.pk).update(
        state=LetterState.HELD, channel=Channel.PAPER, reason=PREPARED, not_before=_noon(letter.planned_on)
    )
    letter.refresh_from_db()
    return letter


@transaction.atomic
def prepare_unsaid(letter: Letter, *, on: date, by: Staff) -> None:
    """Make of a letter that was refused, or came back for good, one to be told or posted: nothing of it was said.

    The same letter, never mailed again: no second one is written. Raises NothingToSay.
    """
    found = Letter.objects.select_for_update(no_key=True).get(pk=letter.pk)
    if not is_unsaid(found):
        raise NothingToSay
    living = Reminder.objects.filter(letter=found, ended_on=None)
    end(living.exclude(pk__in=still_to_say(found).values("pk")), on=on, because=SETTLED)
    # `sent_at` stays: when the mail went out that came back, until the owner is told.
    Letter.objects.filter(pk=found.pk).update(
        state=LetterState.HELD, channel=Channel.PAPER.value, reason=PREPARED, not_before=_noon(found.planned_on)
    )
    before = {"state": found.state}
    if found.sent_at:
        before["sent_at"] = found.sent_at.isoformat()
    leave_trail(
        by=by,
        deed="letter_prepared",
        subject=f"letter:{letter.pk}",
        before=before,
        after={"state": LetterState.HELD.value},
    )


@transaction.atomic
def links_on_paper(letter: Letter, *, now: datetime) -> Links:
    """New secrets that open the letter's page, and stop letters, to be printed. Earlier ones go on opening it.

    Of a letter that is prepared, or was told already. Raises NotPrepared.
    """
    printed = Letter.objects.filter(pk=letter.pk, state__in=[LetterState.HELD, LetterState.SENT])
    if not printed.exclude(channel=Channel.MAIL).select_for_update(no_key=True):
        raise NotPrepared(Letter.objects.values_list("state", flat=True).get(pk=letter.pk))
    page, stop = secrets.token_urlsafe(SECRET_BYTES), secrets.token_urlsafe(SECRET_BYTES)
    OwnerLink.objects.bulk_create(
        OwnerLink(
            letter=letter, purpose=purpose.value, token_hash=hash_token(purpose, token), expires_at=now + LINKS_LAST
        )
        for purpose, token in ((LinkPurpose.PAGE, page), (LinkPurpose.STOP, stop))
    )
    return links_for(page, stop)


@transaction.atomic
def note_reached(letter: Letter, channel: Channel, *, on: date, note: str, by: Staff) -> ReachedOtherwise:
    """Write down that the owner was telephoned, or the letter posted, on a day: its steps have gone out then.

    Raises NotPrepared where that is not so any more.
    """
    changed = _prepared(letter).update(
        state=LetterState.SENT, channel=channel.value, sent_at=_noon(on), reason=f"reached by {channel.value}"
    )
    if not changed:
        raise NotPrepared(Letter.objects.values_list("state", flat=True).get(pk=letter.pk))
    reached = ReachedOtherwise.objects.create(letter=letter, channel=channel.value, on=on, note=note, recorded_by=by)
    _leave_trail(letter, "letter_reached", {"state": LetterState.SENT.value, "by": channel.value}, by=by)
    return reached


@transaction.atomic
def put_back(letter: Letter, *, on: date, by: Staff) -> None:
    """The owner was not reached: the letter ends, and its pieces stand on the list again. Raises NotPrepared.

    One that went out by mail and came back is that letter again: what went out never ends (actions.ending).
    """
    found = _prepared(letter).select_for_update(no_key=True).first()
    if found is None:
        raise NotPrepared(Letter.objects.values_list("state", flat=True).get(pk=letter.pk))
    if found.sent_at:
        state = LetterState.SENT
        Letter.objects.filter(pk=found.pk).update(state=state, channel=Channel.MAIL.value, reason=NOT_REACHED)
    else:
        state = LetterState.ENDED
        end(Reminder.objects.filter(letter=letter, ended_on=None), on=on, because=NOT_REACHED)
    _leave_trail(letter, "letter_put_back", {"state": state.value}, by=by)


def _prepared(letter: Letter) -> QuerySet[Letter]:
    return Letter.objects.filter(pk=letter.pk, state=LetterState.HELD).exclude(channel=Channel.MAIL)


def _leave_trail(letter: Letter, deed: str, after: dict[str, str], *, by: Staff) -> None:
    leave_trail(by=by, deed=deed, subject=f"letter:{letter.pk}", before={"state": LetterState.HELD.value}, after=after)


def _noon(day: date) -> datetime:
    """A moment of that day in nearly every zone: what counts is the day."""
    return datetime.combine(day, time(12), UTC)
