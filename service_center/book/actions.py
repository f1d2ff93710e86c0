"""Writing facts of the book. Each deed is one transaction; what follows from it elsewhere is the caller's to ask for."""

import secrets
from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction

from service_center.access.models import Staff
from service_center.book.models import Boutique, Custody, HistoryEntry, Owner, Piece, PostalAddress, WatchModel
from service_center.book.rules import (
    DoneBy,
    EntryKind,
    Place,
    Status,
    Tightness,
    family_name_key,
    name_key,
    phone_key,
    serial_key,
)

# What may be corrected of an owner; whether they want letters has a deed of its own.
CORRECTABLE = frozenset({"name", "email", "phone", "language", "country", "time_zone"})
# The lengths of the search columns in models.py.
NAME_KEY = 600
SERIAL_KEY = 64


def owner_keys(*, name: str, phone: str) -> dict[str, str]:
    """The search columns of an owner, wherever one is written; cut where one character's search form is many."""
    return {
        "name_key": name_key(name)[:NAME_KEY],
        "family_name_key": family_name_key(name)[:NAME_KEY],
        "phone_key": phone_key(phone),
    }


def piece_keys(serial: str) -> dict[str, str]:
    """The search columns of a piece, wherever one is written."""
    key = serial_key(serial)
    return {"serial_key": key[:SERIAL_KEY], "serial_key_reversed": key[::-1][:SERIAL_KEY]}


@transaction.atomic
def add_entry(
    piece: Piece,
    *,
    done_on: date,
    kind: EntryKind,
    case_opened: bool | None,
    tightness: Tightness,
    done_by: DoneBy,
    accepted: bool | None = None,
    note: str = "",
    by: Staff | None = None,
    code: str = "",
    voids: HistoryEntry | None = None,
) -> HistoryEntry:
    """Add one history entry. Its due dates are stale until `intervals.actions.recompute` is asked.

    Whoever must not write the same deed twice gives the code, which is unique; otherwise one is made.
    `voids` is a wrong entry of the same piece, which no longer counts. Raises CannotVoid where it belongs to another
    piece or was voided before.
    """
    if voids is not None:
        _can_be_voided(voids, piece)
    return HistoryEntry.objects.create(
        code=code or f"SC-{done_on:%Y%m%d}-{secrets.token_hex(5)}",
        piece=piece,
        done_on=done_on,
        kind=kind.value,
        case_opened=case_opened,
        tightness=tightness.value,
        done_by=done_by.value,
        accepted=accepted,
        note=note,
        recorded_by=by,
        voids=voids,
    )


class CannotVoid(ValueError):  # noqa: N818  # a refusal, named as the desk would say it
    """An entry that cannot be corrected so; the message says why."""


def _can_be_voided(entry: HistoryEntry, piece: Piece) -> None:
    if entry.piece_id != piece.pk:
        raise CannotVoid(f"Entry {entry.code} belongs to another piece.")
    if entry.corrections.exists():
        raise CannotVoid(f"Entry {entry.code} was corrected before; correct the later entry.")


@transaction.atomic
def strike_entry(entry: HistoryEntry, *, reason: str, by: Staff | None) -> HistoryEntry:
    """Void an entry that should never have been written: a later entry says of the same day that nothing was done."""
    return add_entry(
        entry.piece,
        done_on=entry.done_on,
        kind=EntryKind(entry.kind),
        case_opened=False,
        tightness=Tightness.NOT_TESTED,
        done_by=DoneBy.OUTSIDE,
        accepted=False,
        note=reason,
        by=by,
        voids=entry,
    )


@transaction.atomic
def move_piece(
    piece: Piece, *, to: Place, boutique: Boutique | None, at: datetime, by: Staff | None, reason: str = ""
) -> Custody:
    """Put a piece into other hands: one custody row, and the piece says where it is now."""
    move = Custody.objects.create(piece=piece, place=to.value, boutique=boutique, since=at, by=by, reason=reason)
    piece.place = to.value
    piece.save(update_fields=["place"])
    return move


@transaction.atomic
def set_letters(owner: Owner, *, wanted: bool) -> None:
    """Write down whether an owner wants letters."""
    owner.letters = wanted
    owner.save(update_fields=["letters"])


@transaction.atomic
def correct_owner(owner: Owner, said: Mapping[str, str]) -> dict[str, str]:
    """Write what was said of an owner. Returns what stood there before, of each field that differs.

    The caller holds the owner's row. Raises ValueError for a field that is not to be corrected so.
    """
    if unknown := set(said) - CORRECTABLE:
        raise ValueError(f"{', '.join(sorted(unknown))}: not to be corrected here")
    before = {field: getattr(owner, field) for field, value in said.items() if getattr(owner, field) != value}
    for field in before:
        setattr(owner, field, said[field])
    if before:
        keys = owner_keys(name=owner.name, phone=owner.phone)
        for field, value in keys.items():
            setattr(owner, field, value)
        owner.save(update_fields=[*before, *keys])
    return before


@transaction.atomic
def set_postal_address(owner: Owner, lines: str) -> str:
    """Write an owner's postal address; nothing given takes it away. Returns what stood there before.

    The caller holds the owner's row.
    """
    known = PostalAddress.objects.filter(owner=owner).first()
    before = known.lines if known else ""
    if not lines:
        PostalAddress.objects.filter(owner=owner).delete()
    elif lines != before:
        PostalAddress.objects.update_or_create(owner=owner, defaults={"lines": lines})
    return before


@transaction.atomic
def add_owner(
    *, name: str, phone: str, email: str, language: str, country: str, time_zone: str, letters: bool | None
) -> Owner:
    """Write a new owner, with a code of their own. `letters` None: they were not asked."""
    return Owner.objects.create(
        code=f"C-{secrets.token_hex(6)}",
        name=name,
        phone=phone,
        email=email,
        language=language,
        country=country,
        time_zone=time_zone,
        letters=letters,
        **owner_keys(name=name, phone=phone),
    )


@transaction.atomic
def add_piece(
    *, serial: str, model: WatchModel | None, owner: Owner | None, boutique: Boutique | None, sold_on: date | None
) -> Piece:
    """Write a new piece, which is with its owner. Its due dates are the caller's to recompute.

    Raises IntegrityError for a serial that the book has.
    """
    return Piece.objects.create(
        serial=serial,
        model=model,
        owner=owner,
        boutique=boutique,
        sold_on=sold_on,
        status=Status.IN_USE.value,
        place=Place.OWNER.value,
        **piece_keys(serial),
    )
