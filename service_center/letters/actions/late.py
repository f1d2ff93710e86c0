"""Letting held letters go: an invitation never outside its owner's morning, whenever the desk says its word."""

from collections import defaultdict
from datetime import datetime

from django.db.models import QuerySet

from service_center.letters.models import Letter
from service_center.letters.queries.late import next_mornings
from service_center.letters.rules.words import LetterSort, LetterState


def let_wait(lot: QuerySet[Letter], *, reason: str, now: datetime) -> int:
    """Some held letters wait for a sender from now on. How many. In the caller's transaction, a statement a morning.

    An invitation whose morning has passed leaves at once only where it is the morning of a working day still, otherwise
    on the next one of its owner. The others, of a visit or an order, and receipts, go at once.
    """
    late = lot.filter(sort=LetterSort.INVITATION, not_before__lte=now).values_list("pk", "owner_id")
    by_owner = dict(late)
    mornings = next_mornings(by_owner.values(), now) if by_owner else {}
    put_off: dict[datetime, list[int]] = defaultdict(list)
    for letter, owner in by_owner.items():
        if mornings[owner] > now:
            put_off[mornings[owner]].append(letter)
    for morning, letters in put_off.items():
        Letter.objects.filter(pk__one_of=letters).update(not_before=morning)
    return lot.update(state=LetterState.WAITING, reason=reason)
