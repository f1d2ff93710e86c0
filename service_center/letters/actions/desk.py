"""What the desk decides about single letters."""

from enum import StrEnum

from django.db import transaction
from django.db.models import F
from django.db.models.functions import Coalesce, Now

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter, OwnerLink
from service_center.letters.rules.words import Channel, LetterState


class Settled(StrEnum):
    """How a person settles a doubt."""

    SENT_AGAIN = "sent_again"
    TAKEN_AS_SENT = "taken_as_sent"


class NotInThatState(Exception):  # noqa: N818  # a refusal, named for what was found
    """The letter has moved on since the page was shown. The message names the state it is in."""


@transaction.atomic
def settle_doubt(letter: Letter, how: Settled, *, by: Staff) -> None:
    """Send a letter in doubt again, as the same message, or take it as sent when it was at the dot.

    Raises NotInThatState where it is no longer in doubt.
    """
    doubtful = Letter.objects.filter(pk=letter.pk, state=LetterState.IN_DOUBT)
    if how is Settled.SENT_AGAIN:
        changed = doubtful.update(state=LetterState.WAITING, not_before=Now(), reason="sent again by the desk")
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
def release(letter: Letter, *, by: Staff) -> None:
    """Let a held letter go, or try a refused one again (after its address was mended). Raises NotInThatState.

    One that is to be told or posted (actions.reaching) is never mailed.
    """
    before = Letter.objects.select_for_update(no_key=True).get(pk=letter.pk).state
    released = Letter.objects.filter(
        pk=letter.pk, state__in=[LetterState.HELD, LetterState.REFUSED], channel=Channel.MAIL
    )
    changed = released.update(
        state=LetterState.WAITING, not_before=Now(), temporary_refusals=0, reason="released by the desk"
    )
    _must_have_changed(letter, changed)
    leave_trail(
        by=by,
        deed="letter_released",
        subject=f"letter:{letter.pk}",
        before={"state": before},
        after={"state": LetterState.WAITING.value},
    )
    ring_after_commit()


@transaction.atomic
def withdraw_links(letter: Letter, *, by: Staff) -> int:
    """Let a letter's links open nothing from now on: it reached the wrong hands. Returns how many were open."""
    links = OwnerLink.objects.filter(letter=letter, withdrawn_at=None)
    count = links.update(withdrawn_at=Now())
    if count:
        leave_trail(by=by, deed="links_withdrawn", subject=f"letter:{letter.pk}", after={"links": count})
    return count


def _must_have_changed(letter: Letter, changed: int) -> None:
    if not changed:
        state = Letter.objects.values_list("state", flat=True).get(pk=letter.pk)
        raise NotInThatState(state)
