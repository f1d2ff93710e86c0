"""The end of a drop-off: the piece is taken in, and the visit it was booked for has come about."""

from datetime import date

from django.db import transaction

from service_center.book.models import Piece
from service_center.intake.actions import Signed, take_in
from service_center.intake.drafts.actions import AtItError
from service_center.intake.drafts.queries import held_open, said_of
from service_center.intake.drafts.started import Started
from service_center.intake.models import DropOff
from service_center.intake.visits.actions import NoLongerOpen, mark
from service_center.intake.visits.models import Visit
from service_center.intake.visits.rules import VisitState


class ChangedMeanwhileError(Exception):
    """A step was kept, or a photograph added, after the text was put together; nothing was written."""


@transaction.atomic
def finish(begun: Started, signed: Signed, *, as_of: date) -> DropOff:
    """Take the piece in as it was noted and signed.

    Raises AtItError, DraftOver (finished before: the first stands), ChangedMeanwhileError, and what `take_in` raises.
    """
    # The piece first, as in every deed at the counter, so that two never wait for each other.
    Piece.objects.select_for_update(of=("self",)).get(pk=begun.piece.pk)
    held = held_open(begun.draft)
    if held.at_it_id != begun.staff.pk:
        raise AtItError(held)
    if said_of(held) != begun.said or list(held.photographs.order_by("pk")) != begun.photographs:
        raise ChangedMeanwhileError
    taken = take_in(begun.piece, **begun.deed(), by=begun.staff, at=begun.now, as_of=as_of, signed=signed)
    _the_owner_came(begun)
    return taken


def _the_owner_came(begun: Started) -> None:
    visits = Visit.objects.filter(
        coming__piece=begun.piece, boutique=begun.draft.boutique, day=begun.taken_on, state=VisitState.BOOKED
    )
    for visit in visits:
        try:
            mark(visit, came=True, by=begun.staff, today=begun.taken_on, now=begun.now)
        except NoLongerOpen:  # cancelled this moment
            continue
