"""Starting a drop-off, keeping each step of it, taking it over, giving it up. Each deed is one transaction."""

from datetime import datetime
from uuid import uuid4

from django.db import IntegrityError, transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Boutique, Piece
from service_center.book.rules import Place, Status
from service_center.intake.actions import NotTakenInError
from service_center.intake.drafts.models import Draft, DraftStep
from service_center.intake.drafts.queries import Said, held_open
from service_center.intake.photographs.actions import delete_files
from service_center.intake.rules import stop_for


class AtItError(Exception):
    """Somebody else is at this drop-off; nothing was written."""

    def __init__(self, draft: Draft) -> None:
        self.by, self.since = draft.at_it, draft.at_it_since
        super().__init__(f"{self.by.username} since {self.since.isoformat()}")


class StartedThereError(Exception):
    """The boutique that was chosen has a started drop-off of this piece already; nothing was written."""


@transaction.atomic
def begin(piece: Piece, boutique: Boutique, *, by: Staff, at: datetime) -> Draft:
    """Start a drop-off, or find the one that was started at this boutique. Raises NotTakenInError."""
    locked = Piece.objects.select_for_update(of=("self",)).get(pk=piece.pk)
    stop = stop_for(Status(locked.status or Status.IN_USE), Place(locked.place))
    if stop:
        raise NotTakenInError(stop)
    started = Draft.objects.filter(piece=locked, boutique=boutique, ended_at=None).first()
    return started or Draft.objects.create(
        key=uuid4(),
        piece=locked,
        boutique=boutique,
        begun_at=at,
        begun_by=by,
        at_it=by,
        at_it_since=at,
        kept_at=at,
    )


@transaction.atomic
def keep_step(draft: Draft, step: str, said: Said, *, by: Staff, at: datetime, taking_over: bool = False) -> Draft:
    """Keep what was typed at a step, right or wrong: the forms judge it. Raises AtItError or DraftOver."""
    held = held_open(draft)
    if taking_over:
        _take_over(held, by, at)
    if held.at_it_id != by.pk:
        raise AtItError(held)
    DraftStep.objects.update_or_create(draft=held, step=step, defaults={"said": said, "kept_at": at})
    held.kept_at = at
    held.save(update_fields=["kept_at"])
    return held


@transaction.atomic
def take_over(draft: Draft, *, by: Staff, at: datetime) -> Draft:
    """From now on this member of staff is at it. Raises DraftOver."""
    held = held_open(draft)
    _take_over(held, by, at)
    return held


@transaction.atomic
def move_to(draft: Draft, boutique: Boutique, *, by: Staff) -> Draft:
    """The piece was handed in at another boutique. Raises StartedThereError, AtItError or DraftOver."""
    held = held_open(draft)
    if held.at_it_id != by.pk:
        raise AtItError(held)
    if held.boutique_id == boutique.pk:
        return held
    held.boutique = boutique
    try:
        with transaction.atomic():
            held.save(update_fields=["boutique"])
    except IntegrityError as taken:  # one_draft_of_a_piece
        raise StartedThereError from taken
    return held


@transaction.atomic
def give_up(draft: Draft, *, by: Staff, at: datetime) -> None:
    """End a drop-off unfinished: what was typed and photographed goes for good. Raises DraftOver."""
    held = held_open(draft)
    keys = list(held.photographs.values_list("key", flat=True))
    held.photographs.all().delete()
    held.steps.all().delete()
    held.ended_at, held.ended_by, held.given_up = at, by, True
    held.save(update_fields=["ended_at", "ended_by", "given_up"])
    leave_trail(
        by=by,
        deed="give_up_drop_off",
        subject=f"piece:{held.piece.serial}",
        before={"begun_at": held.begun_at.isoformat(), "photographs": len(keys)},
    )
    transaction.on_commit(lambda: delete_files(keys), robust=True)


def _take_over(held: Draft, by: Staff, at: datetime) -> None:
    if held.at_it_id == by.pk:
        return
    before = held.at_it.username
    held.at_it, held.at_it_since = by, at
    held.save(update_fields=["at_it", "at_it_since"])
    leave_trail(
        by=by,
        deed="take_over_drop_off",
        subject=f"piece:{held.piece.serial}",
        before={"at_it": before},
        after={"at_it": by.username},
    )
