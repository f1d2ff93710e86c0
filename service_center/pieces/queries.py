"""Finding pieces."""

from dataclasses import dataclass

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Piece
from service_center.book.queries import owners_by_name_or_phone, pieces_by_serial, pieces_visible_to
from service_center.book.rules import Status, serial_key

SHOWN = 25


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found: an exact serial, or a list, and whether there were more than are shown."""

    exact: Piece | None
    pieces: list[Piece]
    more: bool


def find(text: str, staff: Staff) -> Found:
    """Pieces by a serial or part of it, or by their owner's name or telephone. At most seven statements."""
    visible = pieces_visible_to(staff).select_related("model", "owner", "boutique")
    key = serial_key(text)
    exact = list(visible.filter(serial_key=key)[:2]) if key else []
    if len(exact) == 1:
        return Found(exact[0], [], more=False)
    owners = owners_by_name_or_phone(text, SHOWN * 2)
    by_serial = pieces_by_serial(text, visible, SHOWN + 1)
    seen = {piece.pk for piece in by_serial}
    by_owner = visible.filter(owner__in=owners).order_by("owner__name_key", "serial")[: SHOWN + 1] if owners else []
    pieces = [*by_serial, *(piece for piece in by_owner if piece.pk not in seen)]
    return Found(None, pieces[:SHOWN], more=len(pieces) > SHOWN)


def shows_owner(piece: Piece, staff: Staff) -> bool:
    """Of a lost or stolen piece only the desk and the manager see whose it is (design/intake.md, drop-off)."""
    return piece.status not in {Status.LOST, Status.STOLEN} or staff.role in {Role.DESK, Role.MANAGER}
