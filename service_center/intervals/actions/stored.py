"""The stored due dates: worked out anew when a fact or a day changes."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from service_center.intervals import queries
from service_center.intervals.actions.book import recompute_book
from service_center.intervals.actions.pieces import recompute_pieces
from service_center.intervals.models import IntervalRule, StoredDays


@dataclass(frozen=True, slots=True)
class Recomputed:
    """How many pieces were worked out."""

    pieces: int


def recompute(
    piece_ids: Collection[int] | None, *, as_of: date, progress: Callable[[int], object] = lambda _pieces: None
) -> Recomputed:
    """Store the due dates of some pieces, or of the whole book (None), from the facts known on `as_of`.

    Some pieces in one transaction, a constant number of statements for every 2,000; the whole book by the database
    itself, chunk by chunk.
    """
    if piece_ids is None:
        return _whole_book(as_of, progress)
    with transaction.atomic():
        _widen_days(as_of)
        return Recomputed(recompute_pieces(piece_ids, as_of=as_of))


def bring_to(*, as_of: date) -> Recomputed:
    """Make every stored due date that of one day: facts dated after it are left out, those dated up to it count.

    Only pieces with a fact dated between the days of the stored rows and this one are worked out anew; the whole
    book where nothing is stored yet, or where a rule that covers running intervals comes into force between.
    """
    stored = StoredDays.objects.first()
    if stored is None:
        return _whole_book(as_of, lambda _pieces: None)
    first, last = min(stored.first_day, as_of), max(stored.last_day, as_of)
    if first == last:
        return Recomputed(pieces=0)
    if IntervalRule.objects.filter(covers_running=True, in_force_from__gt=first, in_force_from__lte=last).exists():
        return _whole_book(as_of, lambda _pieces: None)
    with transaction.atomic():
        pieces = recompute_pieces(queries.pieces_with_facts_between(first, last), as_of=as_of)
        StoredDays.objects.update(first_day=as_of, last_day=as_of)
    return Recomputed(pieces)


def _whole_book(as_of: date, progress: Callable[[int], object]) -> Recomputed:
    _widen_days(as_of)
    rules = None
    while rules != (rules := queries.house_rules()):
        # Once more where a rule was changed meanwhile: what was worked out before that went by the old ones.
        pieces = recompute_book(as_of=as_of, progress=progress)
    StoredDays.objects.update_or_create(pk=1, defaults={"first_day": as_of, "last_day": as_of})
    return Recomputed(pieces)


def _widen_days(as_of: date) -> None:
    """Until the whole book is brought to one day, its rows are of the days from the first to the last."""
    StoredDays.objects.filter(first_day__gt=as_of).update(first_day=as_of)
    StoredDays.objects.filter(last_day__lt=as_of).update(last_day=as_of)
