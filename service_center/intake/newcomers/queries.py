"""Look-alikes: pieces and owners that the book knows under nearly the same name, before a second record is made."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Lower

from service_center.access.models import Staff, Trail
from service_center.access.rules import Role
from service_center.book.models import Owner, Piece
from service_center.book.queries import pieces_visible_to
from service_center.book.rules import name_key, phone_key, serial_key
from service_center.intake.rules.similar import similar_keys

SHOWN, LOOKED_AT = 8, 50
# As many last digits of a telephone number say that two are one, however its country code was written.
SAME_DIGITS = 8


@dataclass(frozen=True, slots=True)
class LikePieces:
    """The piece that has this serial already, or those one slip away; `elsewhere` are another boutique's, unnamed."""

    same: Piece | None
    near: list[Piece]
    elsewhere: int


@dataclass(frozen=True, slots=True)
class LikeOwner:
    """An owner who may be the same person. `known`: this member of staff sees who it is."""

    owner: Owner
    known: bool


def was_written(mark: str, serial: str) -> bool:
    """Whether the form of this mark was written down about this piece: the trail keeps it. One statement, by index."""
    return Trail.objects.filter(subject=f"piece:{serial}", after__form=mark).exists()


def piece_written(mark: str, serial: str) -> Piece | None:
    """The piece that the form of this mark wrote. Two statements at most, by index."""
    return Piece.objects.filter(serial=serial).first() if was_written(mark, serial) else None


def like_pieces(serial: str, staff: Staff) -> LikePieces:
    """Pieces with this serial, or one a slip away from it. At most three statements, by index."""
    key = serial_key(serial)
    same = Piece.objects.select_related("model").filter(serial_key=key).first() if key else None
    if same or not key:
        return LikePieces(same, [], 0)
    near = Piece.objects.filter(serial_key__in=similar_keys(key))
    found = list(near.values_list("pk", flat=True)[: SHOWN * 2])
    visible = pieces_visible_to(staff).filter(pk__in=found).select_related("model", "owner").order_by("serial")
    seen = list(visible[:SHOWN]) if found else []
    return LikePieces(None, seen, elsewhere=len(found) - len(seen))


def like_owners(*, name: str, phone: str, email: str, staff: Staff) -> list[LikeOwner]:
    """Owners with the same e-mail, telephone or name. Five statements at most, by index.

    A boutique is told of another's owner only where two of the three agree: then it is told that the house knows this
    person, and no more than it typed itself.
    """
    named, dialled, mailed = name_key(name), phone_key(phone), email.strip().lower()
    # Each in the order of its own index: in the order of another the database would walk all owners for a few.
    asked = [(Q(mail_key=mailed), "mail_key")] if mailed else []
    if len(dialled) >= SAME_DIGITS:
        asked.append((Q(phone_key__prefix=dialled[:SAME_DIGITS]), "phone_key"))
    if named:
        asked += [(Q(name_key=named), "name_key"), (Q(family_name_key=named), "family_name_key")]
    rows = Owner.objects.alias(mail_key=Lower("email"))
    found = {owner.pk: owner for alike, order in asked for owner in rows.filter(alike).order_by(order)[:LOOKED_AT]}
    visible = set(_visible(list(found), staff).values_list("pk", flat=True)) if found else set()
    alike = []
    for owner in found.values():
        agree = [
            bool(mailed) and owner.email.lower() == mailed,
            len(dialled) >= SAME_DIGITS and owner.phone_key.startswith(dialled[:SAME_DIGITS]),
            named in (owner.name_key, owner.family_name_key),
        ]
        if owner.pk in visible or sum(agree) > 1:
            alike.append(LikeOwner(owner, known=owner.pk in visible))
    return alike[:SHOWN]


def _visible(owners: list[int], staff: Staff) -> QuerySet[Owner]:
    """Of these owners, those whose pieces this member of staff sees."""
    rows = Owner.objects.filter(pk__in=owners)
    if staff.role != Role.BOUTIQUE:
        return rows
    return rows.filter(Exists(pieces_visible_to(staff).filter(owner=OuterRef("pk"))))
