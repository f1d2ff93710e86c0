"""What the desk decides about single letters."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from django.db import transaction
from django.db.models import F
from django.db.models.functions import Coalesce, Now
from django.utils import timezone

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Owner
from service_center.letters.actions.ending import end
from service_center.letters.actions.late import let_wait
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter, OwnerLink, Reminder
from service_center.letters.queries.links import links_of
from service_center.letters.queries.listing import COUNTED_UP_TO
from service_center.letters.queries.rounds import mail_beside
from service_center.letters.queries.unsaid import beyond_reach, refused_to_us
from service_center.letters.rules.deciding import too_near
from service_center.letters.rules.restored import NAME_IS_BORNE
from service_center.letters.rules.words import Channel, LetterSort, LetterState

# Letters that one press tries again: a page waits for each of them.
TRIED_AT_ONCE = 200

SENT_AGAIN = "sent again by the desk"


class Settled(StrEnum):
    """How a person settles a doubt."""

    SENT_AGAIN = "sent_again"
    TAKEN_AS_SENT = "taken_as_sent"


class NotInThatState(Exception):  # noqa: N818  # a refusal, named for what was found
    """The letter has moved on since the page was shown. The message names the state it is in."""


class TooNear(Exception):  # noqa: N818  # a refusal, named for what was found
    """Another letter of its owner forbids it. The message names the reason."""


@transaction.atomic
def settle_doubt(letter: Letter, how: Settled, *, by: Staff, now: datetime, attempt: int | None = None) -> None:
    """Send a letter in doubt again, as the same message, or take it as sent when it was at the dot.

    An invitation goes again in a morning of its owner, anything else at once.
    `attempt`: the one whose doubt was looked at; None for whichever it is. Raises NotInThatState where the letter is no
    longer in doubt, or is so from a later attempt.
    """
    doubtful = Letter.objects.filter(pk=letter.pk, state=LetterState.IN_DOUBT)
    if attempt is not None:
        doubtful = doubtful.filter(attempt=attempt)
    if how is Settled.SENT_AGAIN:
        changed = let_wait(doubtful, reason=SENT_AGAIN, now=now)
    else:
        changed = doubtful.update(
            state=LetterState.SENT, sent_at=Coalesce(F("dot_at"), Now()), reason="taken as sent by the desk"
        )
    _must_have_changed(letter, changed)
    leave_trail(
        by=by,
        deed=f"letter_{how.value}",
        subject=f"letter:{letter.pk}",
        before={"state": LetterState.IN_DOUBT.value},
        after={"state": (LetterState.WAITING if how is Settled.SENT_AGAIN else LetterState.SENT).value},
    )
    ring_after_commit()


@transaction.atomic
def release(letter: Letter, *, by: Staff, now: datetime) -> None:
    """Let a held letter go, or try a refused one again (after its address was mended). Raises NotInThatState or TooNear.

    An invitation goes in a morning of its owner, anything else at once. One that is to be told or posted
    (actions.reaching) is never mailed.
    """
    _must_not_follow_another(letter)
    before = Letter.objects.select_for_update(no_key=True).get(pk=letter.pk).state
    released = Letter.objects.filter(
        pk=letter.pk, state__in=[LetterState.HELD, LetterState.REFUSED], channel=Channel.MAIL
    )
    released.exclude(sort=LetterSort.INVITATION).update(not_before=Now())
    released.update(temporary_refusals=0)
    _must_have_changed(letter, let_wait(released, reason="released by the desk", now=now))
    leave_trail(
        by=by,
        deed="letter_released",
        subject=f"letter:{letter.pk}",
        before={"state": before},
        after={"state": LetterState.WAITING.value},
    )
    ring_after_commit()


@dataclass(slots=True)
class Tried:
    """Of letters that were tried again together: how many go, and how many stay as they are."""

    go: int = 0
    stay: int = 0


def try_all_again(*, by: Staff, now: datetime) -> Tried:
    """Try those again that were refused for the house's fault: each by the rules of one, and in its own transaction.

    As many as a page may take. May be repeated; of two people who press at once each letter follows one.
    """
    tried = Tried()
    for letter in list(refused_to_us().select_related("owner")[:COUNTED_UP_TO]):
        if tried.go == TRIED_AT_ONCE:
            break
        try:
            if beyond_reach(letter):
                tried.stay += 1
            else:
                release(letter, by=by, now=now)
                tried.go += 1
        except TooNear:
            tried.stay += 1
        except NotInThatState:  # somebody else was first
            continue
    return tried


@transaction.atomic
def end_nameless(letter: Letter, *, on: date, by: Staff) -> None:
    """End a letter under whose number another one went out before a restore. Raises NotInThatState.

    It would be held again as often as it is let go. A later round writes anew what is still due, under another number.
    """
    held = Letter.objects.filter(pk=letter.pk, state=LetterState.HELD, reason=NAME_IS_BORNE)
    _must_have_changed(letter, len(held.select_for_update(no_key=True)))
    end(Reminder.objects.filter(letter=letter, ended_on=None), on=on, because=NAME_IS_BORNE)
    held.update(state=LetterState.ENDED)  # word about a visit or an order, or a receipt: those carry no reminders
    leave_trail(
        by=by,
        deed="letter_ended",
        subject=f"letter:{letter.pk}",
        before={"state": LetterState.HELD.value},
        after={"state": LetterState.ENDED.value},
        reason=NAME_IS_BORNE,
    )


@transaction.atomic
def withdraw_links(letter: Letter, *, by: Staff) -> int:
    """Let a letter's links open nothing from now on: it reached the wrong hands. Returns how many were open.

    Of word about a visit those of the page that it opens, with the letter's own to which the page belongs.
    """
    open_ones = dict(links_of(letter).filter(withdrawn_at=None).values_list("pk", "letter_id"))
    count = OwnerLink.objects.filter(pk__in=open_ones, withdrawn_at=None).update(withdrawn_at=Now())
    if count:
        for one in sorted({letter.pk, *open_ones.values()}):
            leave_trail(by=by, deed="links_withdrawn", subject=f"letter:{one}", after={"links": count})
    return count


def _must_not_follow_another(letter: Letter) -> None:
    """A refused invitation keeps no later one from being written: by now another may have gone out, or be about to.

    Its owner's row is held, as a round holds it that writes to them.
    """
    Owner.objects.select_for_update(no_key=True).get(pk=letter.owner_id)
    refused = Letter.objects.filter(pk=letter.pk, state=LetterState.REFUSED, sort=LetterSort.INVITATION)
    found = refused.select_related("owner").annotate(now=Now()).first()
    if found and (reason := too_near(mail_beside(found, timezone.localdate(found.now)), timezone.localdate(found.now))):
        raise TooNear(reason.value)


def _must_have_changed(letter: Letter, changed: int) -> None:
    if not changed:
        state = Letter.objects.values_list("state", flat=True).get(pk=letter.pk)
        raise NotInThatState(state)
