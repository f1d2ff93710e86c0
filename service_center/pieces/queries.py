"""Finding pieces and their owners."""

from dataclasses import dataclass, field

from service_center.access.models import Staff
from service_center.access.rules import DESK, Role
from service_center.book.models import Owner, Piece
from service_center.book.queries import owners_by_email, owners_by_name_or_phone, pieces_by_serial, pieces_visible_to
from service_center.book.rules import Status, serial_key

SHOWN = 25


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found: an exact serial, or a list, and whether there were more than are shown.

    `owners`: those found of whom no piece is in the list.
    """

    exact: Piece | None
    pieces: list[Piece]
    more: bool
    owners: list[Owner] = field(default_factory=list)


def find(text: str, staff: Staff) -> Found:
    """Pieces by a serial or part of it, or by their owner's name, telephone or whole e-mail address.

    The desk finds owners of whom it has no piece, too. At most eight statements.
    """
    visible = pieces_visible_to(staff).select_related("model", "owner", "boutique")
    key = serial_key(text)
    exact = list(visible.filter(serial_key=key)[:2]) if key else []
    if len(exact) == 1:
        return Found(exact[0], [], more=False)
    owners = owners_by_email(text, SHOWN * 2) if "@" in text else owners_by_name_or_phone(text, SHOWN * 2)
    by_serial = pieces_by_serial(text, visible, SHOWN + 1)
    seen = {piece.pk for piece in by_serial}
    by_owner = visible.filter(owner__in=owners).order_by("owner__name_key", "serial")[: SHOWN + 1] if owners else []
    pieces = [*by_serial, *(piece for piece in by_owner if piece.pk not in seen)]
    more = len(pieces) > SHOWN
    return Found(None, pieces[:SHOWN], more, [] if more else _without_pieces(owners, pieces, staff))


def _without_pieces(owners: list[int], pieces: list[Piece], staff: Staff) -> list[Owner]:
    """Owners that only their own page shows, which the desk opens. One statement, none where there are none."""
    theirs = {piece.owner_id for piece in pieces}
    left = [pk for pk in owners if pk not in theirs] if staff.role in DESK else []
    return list(Owner.objects.filter(pk__in=left).order_by("name_key", "pk")[:SHOWN]) if left else []


def shows_owner(piece: Piece, staff: Staff) -> bool:
    """Of a lost or stolen piece only the desk and the manager see whose it is (design/intake.md, drop-off)."""
    return piece.status not in {Status.LOST, Status.STOLEN} or staff.role in {Role.DESK, Role.MANAGER}
