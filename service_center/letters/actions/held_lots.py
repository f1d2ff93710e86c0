"""Held letters, a lot at a time: what the desk decides about many of them at once, in transactions that stay short."""

from collections.abc import Callable, Iterator

from django.db import transaction
from django.db.models import QuerySet

from service_center.letters.models import Letter
from service_center.letters.rules.words import LetterState

LETTERS_AT_ONCE = 2_000


def each_lot(letters: QuerySet[Letter], deed: Callable[[QuerySet[Letter]], int]) -> int:
    """Do something with those letters that are held still, some thousands a transaction; the sum of what it returned.

    What is done with a letter must end its being held. So it may be repeated, and of two people who decide at once
    each letter follows one.
    """
    count = 0
    for lot in _lots(letters):
        with transaction.atomic():
            held = Letter.objects.filter(pk__in=lot, state=LetterState.HELD).order_by("pk")
            if locked := list(held.select_for_update(no_key=True).values_list("pk", flat=True)):
                count += deed(Letter.objects.filter(pk__in=locked))
    return count


def _lots(letters: QuerySet[Letter]) -> Iterator[list[int]]:
    last = 0
    held = letters.filter(state=LetterState.HELD).order_by("pk").values_list("pk", flat=True)
    while lot := list(held.filter(pk__gt=last)[:LETTERS_AT_ONCE]):
        yield lot
        last = lot[-1]
