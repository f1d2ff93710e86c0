"""After a backup was brought back: who was erased since it was made is erased again (design/reliability.md, B3)."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.conf import settings
from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.book.models import Owner, Piece
from service_center.book.rules import Place
from service_center.letters.faults import fault
from service_center.owner_pages.actions.erasing import erase_again
from service_center.owner_pages.models import ErasedAddress
from service_center.owner_pages.rules.erased import Erased, may_be


@dataclass(slots=True)
class ErasedAgain:
    """What the journal knew: owners erased once more, owners whom the backup had as erased, and codes that it lacks,
    which are kept as erased. `unlike`: codes that the book has for somebody else, left alone. `here`: codes of those
    erased again of whom the backup has a piece in the house.
    """

    erased: list[str] = field(default_factory=list)
    known: int = 0
    kept: int = 0
    unlike: list[str] = field(default_factory=list)
    here: list[str] = field(default_factory=list)


def replay_erasures(records: Iterable[Erased], *, now: datetime) -> ErasedAgain:
    """Erase whom the journal names. One transaction an owner; an interrupted replay is simply run again."""
    result = ErasedAgain()
    for erased in records:
        with transaction.atomic():
            _replay_one(erased, result, now=now)
            fault("replay_erasure")
    return result


def _replay_one(erased: Erased, result: ErasedAgain, *, now: datetime) -> None:
    # Addresses by which the house knew them at the end, and which the backup may not have.
    for one in erased.emails:
        ErasedAddress.objects.get_or_create(hash=one, defaults={"erased_on": erased.on})
    owner = Owner.objects.filter(code=erased.owner).first()
    if owner is None:
        # Without a row, an import would take the code for that of somebody new.
        Owner.objects.create(code=erased.owner, letters=False, erased_on=erased.on)
        leave_trail(
            by=None,
            deed="owner_erased",
            subject=f"owner:{erased.owner}",
            after={"erased_on": erased.on.isoformat()},
            reason="by the erasure journal; the backup does not have them",
        )
        result.kept += 1
    elif owner.erased_on is not None:
        result.known += 1
    elif may_be(
        erased,
        email=owner.email,
        name=owner.name,
        secrets=[settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS],
    ):
        erase_again(owner, on=erased.on, now=now)
        result.erased.append(erased.owner)
        if Piece.objects.filter(owner=owner).exclude(place=Place.OWNER).exists():
            result.here.append(erased.owner)
    else:
        result.unlike.append(erased.owner)
