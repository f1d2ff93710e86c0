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
from service_center.letters.rules.links import LINKS_LAST, SECRET_BYTES, hash_token
from service_center.letters.rules.words import Channel, LetterState, LinkPurpose

PREPARED = "prepared, to be told or sent on paper"
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
    letter = Letter.objects.create(
        owner=owner,
        channel=Channel.PAPER.value,
        language=language_of(owner),
        planned_on=as_of,
        state=LetterState.HELD.value,
        reason=PREPARED,
        not_before=_noon(as_of),
    )
    put_into([(letter, planned) for planned in decision.reminders])
    if not Reminder.objects.filter(letter=letter, ended_on=None).exists():
        raise NothingToSay
    _leave_trail(letter, "letter_prepared", {"state": LetterState.HELD.value}, by=by)
    return letter


@transaction.atomic
def links_on_paper(letter: Letter, *, now: datetime) -> Links:
    """New secrets that open the letter's page, and stop letters, to be printed. Earlier ones go on opening it."""
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
    """The owner was not reached: the letter ends, and its pieces stand on the list again. Raises NotPrepared."""
    if not list(_prepared(letter).select_for_update(no_key=True)):
        raise NotPrepared(Letter.objects.values_list("state", flat=True).get(pk=letter.pk))
    end(Reminder.objects.filter(letter=letter, ended_on=None), on=on, because=NOT_REACHED)
    _leave_trail(letter, "letter_put_back", {"state": LetterState.ENDED.value}, by=by)


def _prepared(letter: Letter) -> QuerySet[Letter]:
    return Letter.objects.filter(pk=letter.pk, state=LetterState.HELD).exclude(channel=Channel.MAIL)


def _leave_trail(letter: Letter, deed: str, after: dict[str, str], *, by: Staff) -> None:
    leave_trail(by=by, deed=deed, subject=f"letter:{letter.pk}", before={"state": LetterState.HELD.value}, after=after)


def _noon(day: date) -> datetime:
    """A moment of that day in nearly every zone: what counts is the day."""
    return datetime.combine(day, time(12), UTC)
