"""Writing a new piece or a new owner into the book at the counter."""

from dataclasses import dataclass
from datetime import date

from django.db import IntegrityError, transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.actions import add_owner, add_piece
from service_center.book.models import Boutique, Owner, Piece, WatchModel
from service_center.intake.newcomers.queries import was_written
from service_center.intervals.actions import recompute
from service_center.letters.actions.ending import end_all_of


class KnownAlreadyError(Exception):
    """The book has a piece with this serial; nothing was written."""


@dataclass(frozen=True, slots=True)
class NewOwner:
    """Who an owner is, as they say it themselves. `letters` None: they were not asked."""

    name: str
    phone: str
    email: str
    language: str
    country: str
    letters: bool | None


def new_piece(
    *,
    serial: str,
    model: WatchModel | None,
    sold_on: date | None,
    owner: Owner | NewOwner,
    boutique: Boutique | None,
    by: Staff,
    as_of: date,
    mark: str,
) -> Piece:
    """Write a piece, and its owner where they are new too. `mark` is the form's. Raises KnownAlreadyError."""
    try:
        with transaction.atomic():
            piece = add_piece(
                serial=serial, model=model, owner=_owner(owner, boutique, by), boutique=boutique, sold_on=sold_on
            )
            recompute([piece.pk], as_of=as_of)
            leave_trail(
                by=by,
                deed="add_piece",
                subject=f"piece:{piece.serial}",
                after={"owner": piece.owner.code if piece.owner else "", "model": str(model or ""), "form": mark},
            )
            return piece
    except IntegrityError as error:
        raise KnownAlreadyError(serial) from error


@transaction.atomic
def change_owner(
    piece: Piece, owner: Owner | NewOwner | None, *, boutique: Boutique | None, by: Staff, as_of: date, mark: str = ""
) -> Piece:
    """A piece belongs to somebody else now, to somebody at last, or (None) to nobody knows whom.

    Letters to the owner before end. A form that is sent twice (same `mark`) is one change of hands.
    """
    locked = Piece.objects.select_for_update(of=("self",)).get(pk=piece.pk)
    if mark and was_written(mark, locked.serial):
        return locked
    before = locked.owner
    found = _owner(owner, boutique, by) if owner else None
    if before == found:
        return locked
    locked.owner = found
    locked.save(update_fields=["owner"])
    recompute([locked.pk], as_of=as_of)
    if before:
        end_all_of([locked.pk], owner=before.pk, on=as_of, because="belongs to somebody else now")
    leave_trail(
        by=by,
        deed="change_owner",
        subject=f"piece:{locked.serial}",
        before={"owner": before.code if before else ""},
        after={"owner": found.code if found else "", "form": mark},
    )
    return locked


def _owner(owner: Owner | NewOwner, boutique: Boutique | None, by: Staff) -> Owner:
    if isinstance(owner, Owner):
        return owner
    made = add_owner(
        name=owner.name,
        phone=owner.phone,
        email=owner.email,
        language=owner.language,
        country=owner.country,
        time_zone=boutique.time_zone if boutique else "",
        letters=owner.letters,
    )
    leave_trail(by=by, deed="add_owner", subject=f"owner:{made.code}")
    return made
