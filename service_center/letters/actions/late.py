"""Letters that are late: an invitation never leaves outside its owner's morning, whoever held it up.

The desk said its word in the evening, a mail server asked for patience, or no sender was there for hours.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db.models import QuerySet

from service_center.letters.models import Letter
from service_center.letters.queries.late import next_mornings
from service_center.letters.rules.mornings import is_late
from service_center.letters.rules.words import LetterSort, LetterState


def let_wait(lot: QuerySet[Letter], *, reason: str, now: datetime) -> int:
    """Some held letters wait for a sender from now on. How many. In the caller's transaction, a statement a morning.

    An invitation whose morning has passed leaves at once only where it is the morning of a working day still, otherwise
    on the next one of its owner. The others, of a visit or an order, and receipts, go at once.
    """
    late = lot.filter(sort=LetterSort.INVITATION, not_before__lte=now).values_list("pk", "owner_id")
    _put_off(dict(late), now)
    return lot.update(state=LetterState.WAITING, reason=reason)


def in_their_morning(letters: Sequence[Letter], now: datetime) -> list[Letter]:
    """Of letters that this transaction holds, those that may leave now. The others rest until a morning of their owner.

    Only an invitation that is late is asked about: what is taken in time costs nothing.
    """
    late = {
        letter.pk: letter.owner_id
        for letter in letters
        if letter.sort == LetterSort.INVITATION and is_late(letter.written_at, letter.not_before, now)
    }
    rests = _put_off(late, now)
    return [letter for letter in letters if letter.pk not in rests]


def _put_off(letters: Mapping[int, int], now: datetime) -> set[int]:
    """Let letters, each with its owner, wait for a morning where it is none. Which. A statement a morning."""
    mornings = next_mornings(letters.values(), now) if letters else {}
    put_off: dict[datetime, list[int]] = defaultdict(list)
    for letter, owner in letters.items():
        if mornings[owner] > now:
            put_off[mornings[owner]].append(letter)
    for morning, those in put_off.items():
        Letter.objects.filter(pk__one_of=those).update(not_before=morning)
    return {letter for those in put_off.values() for letter in those}
