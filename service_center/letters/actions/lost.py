"""Letters whose sender was lost: those without the dot wait again, those with it are in doubt, unless somebody knows.

A sender writes into its machine's journal what a mail server took before it tells the database. Where it died in
between, the journal still knows, and there is no doubt (design/reliability.md, B2: evidence).
"""

from collections.abc import Sequence
from datetime import timedelta

from django.db import transaction
from django.db.models import Q, QuerySet
from django.db.models.functions import Now

from service_center.letters import journal
from service_center.letters.models import Letter, OwnerLink
from service_center.letters.rules.journal import Gone
from service_center.letters.rules.words import LetterState

BY_THE_JOURNAL = "sent, by the journal"
AT_THE_DOT = "the sender was lost while the server had the message"
# A sender that lives has told the database by then.
JOURNAL_KNOWS_AFTER = timedelta(seconds=5)
# Whoever has decided nothing of a doubt for so long decides by other things than this machine's journal.
JOURNAL_IS_ASKED_FOR = timedelta(days=2)


def put_back_the_abandoned() -> tuple[int, int]:
    """Letters whose lease ran out: those without the dot wait again, those with it are in doubt. How many of each."""
    known = _known_to_the_journal()  # nobody waits for the disk within a transaction
    with transaction.atomic(durable=True):
        return _put_back(known)


def _put_back(known: Sequence[Gone]) -> tuple[int, int]:
    for gone in known:
        _settle_by(gone)
    over = Letter.objects.filter(lease_until__lt=Now())
    waiting = over.filter(state=LetterState.HANDING_OVER).update(
        state=LetterState.WAITING, lease_until=None, reason="the sender was lost before the end of the message"
    )
    in_doubt = over.filter(state=LetterState.AT_THE_DOT).update(
        state=LetterState.IN_DOUBT, lease_until=None, reason=AT_THE_DOT
    )
    return waiting, in_doubt


def _unsure() -> QuerySet[Letter]:
    """Letters at the dot whose sender says nothing, and those that are in doubt since it was given up."""
    silent = Q(state=LetterState.AT_THE_DOT) & (Q(dot_at__lt=Now() - JOURNAL_KNOWS_AFTER) | Q(lease_until__lt=Now()))
    given_up = Q(state=LetterState.IN_DOUBT, reason=AT_THE_DOT, dot_at__gt=Now() - JOURNAL_IS_ASKED_FOR)
    return Letter.objects.filter(silent | given_up, message_id__isnull=False)


def _known_to_the_journal() -> list[Gone]:
    """What this machine's journal says of them."""
    attempts = {name: attempt for name, attempt in _unsure().values_list("message_id", "attempt") if name}
    known = journal.lately_of(attempts) if attempts else []
    return [gone for gone in known if attempts[gone.going.message_id] == gone.going.attempt]


def _settle_by(gone: Gone) -> None:
    """What was taken is sent, though its sender could not say so. Whoever else decided meanwhile was first."""
    if _is_of_this_book(gone):
        _unsure().filter(pk=gone.going.letter, attempt=gone.going.attempt).update(
            state=LetterState.SENT, sent_at=gone.at, reply=gone.reply, reason=BY_THE_JOURNAL, lease_until=None
        )


def _is_of_this_book(gone: Gone) -> bool:
    """Whether the record is of this very attempt: the book has the secrets that it put into the letter."""
    secrets = {one.token_hash for one in gone.going.links}
    return bool(secrets) and OwnerLink.objects.filter(letter=gone.going.letter, token_hash__in=secrets).count() == len(
        secrets
    )
