"""Reading the book."""

from collections import defaultdict
from typing import TypeVar

from django.db.models import Exists, F, Model, OuterRef, Q, QuerySet
from django.db.models.functions import Lower

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.lookups import PrefixOrder
from service_center.book.models import Boutique, Custody, Owner, Piece
from service_center.book.rules import Place, name_key, phone_key, serial_key

Row = TypeVar("Row", bound=Model)


def pieces_visible_to(staff: Staff) -> QuerySet[Piece]:
    """All pieces for the desk, the benches and the manager; for a boutique those it sold or has taken in."""
    if staff.role != Role.BOUTIQUE:
        return Piece.objects.all()
    here = Boutique.objects.filter(code=staff.boutique)
    # Asked of each piece that is found otherwise: a list of all the boutique's pieces would cost more than the search.
    taken_in = Custody.objects.filter(piece=OuterRef("pk"), place=Place.BOUTIQUE, boutique__in=here)
    return Piece.objects.filter(Q(boutique__in=here) | Exists(taken_in))


def pieces_by_serial(text: str, among: QuerySet[Piece], most: int) -> list[Piece]:
    """Pieces whose serial begins with what was typed or scanned, then those where it ends so; so many of each at most.

    Two statements by index, none for nothing typed. Some of many are those first in the order of the index.
    """
    key = serial_key(text)
    if not key:
        return []
    beginning = _first(among, "serial_key", key, most)
    seen = {piece.pk for piece in beginning}
    ending = (piece for piece in _first(among, "serial_key_reversed", key[::-1], most) if piece.pk not in seen)
    return [*beginning, *sorted(ending, key=lambda piece: piece.serial)]


def boutiques_by_country() -> dict[str, list[Boutique]]:
    """The house's boutiques by their country, in order of name; under "" those of which it is not known. One statement."""
    found: dict[str, list[Boutique]] = defaultdict(list)
    for boutique in Boutique.objects.order_by("name", "code"):
        found[boutique.country].append(boutique)
    return found


def owners_by_name_or_phone(text: str, most: int) -> list[int]:
    """Keys of owners whose name (either word order) begins, or whose telephone ends, with what was typed, by name.

    So many at most; a statement by index for each way to ask.
    """
    name, phone = name_key(text), phone_key(text)
    asked = [("name_key", name), ("family_name_key", name)] if name else []
    if len(phone) >= 4:
        asked.append(("phone_key", phone))
    few = Owner.objects.only("name_key")
    found = {owner.pk: owner for column, key in asked for owner in _first(few, column, key, most)}
    return [owner.pk for owner in sorted(found.values(), key=lambda owner: (owner.name_key, owner.pk))[:most]]


def owners_by_email(text: str, most: int) -> list[int]:
    """Keys of owners with this e-mail address, however it is capitalised; so many at most. One statement by index."""
    rows = Owner.objects.alias(lower=Lower("email")).filter(lower=text.strip().lower())
    return list(rows.order_by("pk").values_list("pk", flat=True)[:most])


def _first(among: QuerySet[Row], column: str, key: str, most: int) -> list[Row]:
    """The first so many rows of which a column begins so, in the order of its index."""
    return list(among.filter(**{f"{column}__prefix": key}).order_by(PrefixOrder(F(column)))[:most])
