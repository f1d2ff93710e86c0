"""Reading the book."""

from collections import defaultdict

from django.db.models import Exists, OuterRef, Q, QuerySet

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Boutique, Custody, Owner, Piece
from service_center.book.rules import Place, name_key, phone_key, serial_key


def pieces_visible_to(staff: Staff) -> QuerySet[Piece]:
    """All pieces for the desk, the benches and the manager; for a boutique those it sold or has taken in."""
    if staff.role != Role.BOUTIQUE:
        return Piece.objects.all()
    here = Boutique.objects.filter(code=staff.boutique)
    # Asked of each piece that is found otherwise: a list of all the boutique's pieces would cost more than the search.
    taken_in = Custody.objects.filter(piece=OuterRef("pk"), place=Place.BOUTIQUE, boutique__in=here)
    return Piece.objects.filter(Q(boutique__in=here) | Exists(taken_in))


def pieces_by_serial(text: str) -> QuerySet[Piece]:
    """Pieces whose serial begins or ends with what was typed or scanned. By index; empty for nothing typed."""
    key = serial_key(text)
    if not key:
        return Piece.objects.none()
    return Piece.objects.filter(Q(serial_key__prefix=key) | Q(serial_key_reversed__prefix=key[::-1])).order_by("serial")


def boutiques_by_country() -> dict[str, list[Boutique]]:
    """The house's boutiques by their country, in order of name; under "" those of which it is not known. One statement."""
    found: dict[str, list[Boutique]] = defaultdict(list)
    for boutique in Boutique.objects.order_by("name", "code"):
        found[boutique.country].append(boutique)
    return found


def owners_by_name_or_phone(text: str) -> QuerySet[Owner]:
    """Owners whose name (either word order) begins, or whose telephone ends, with what was typed. By index."""
    name, phone = name_key(text), phone_key(text)
    matches = Q()
    if name:
        matches |= Q(name_key__prefix=name) | Q(family_name_key__prefix=name)
    if len(phone) >= 4:
        matches |= Q(phone_key__prefix=phone)
    return Owner.objects.filter(matches).order_by("name_key") if matches else Owner.objects.none()
