"""Finding a piece at the counter, and the drop-offs."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Boutique, Custody, Piece
from service_center.book.queries import pieces_visible_to
from service_center.book.rules import Place, Status, serial_key
from service_center.intake.models import DropOff
from service_center.intake.rules import Stop, number_meant, stop_for
from service_center.intake.visits.models import Visit, VisitPiece
from service_center.intake.visits.rules import VisitState
from service_center.pieces.queries import find as find_pieces

PAGE = 50


@dataclass(frozen=True, slots=True)
class AtCounter:
    """One piece as the counter may see it. `shows_owner`: this member of staff may see whose it is."""

    piece: Piece
    shows_owner: bool
    stop: Stop | None


@dataclass(frozen=True, slots=True)
class FoundAtCounter:
    """What a search at the counter found; `drop_off` where its number or its label was read."""

    pieces: list[AtCounter]
    more: bool
    drop_off: DropOff | None


def find(text: str, staff: Staff) -> FoundAtCounter:
    """Pieces by serial, owner or telephone as far as the role sees them, and any piece by its whole serial.

    The code on a label is the serial: of a piece that is here it finds the drop-off. At most eight statements, all by
    index.
    """
    drop_off = _by_number(text, staff)
    if drop_off:
        return FoundAtCounter([], more=False, drop_off=drop_off)
    found = find_pieces(text, staff)
    if found.exact and found.exact.place != Place.OWNER:
        here = open_drop_off(found.exact, staff)
        if here:
            return FoundAtCounter([], more=False, drop_off=here)
    visible = [found.exact] if found.exact else found.pieces
    seen = {piece.pk for piece in visible}
    elsewhere = [piece for piece in _by_whole_serial(text) if piece.pk not in seen] if not found.exact else []
    pieces = [
        *(_at_counter(piece, visible=False) for piece in elsewhere),
        *(_at_counter(piece, visible=True) for piece in visible),
    ]
    return FoundAtCounter(pieces, more=found.more, drop_off=None)


def piece_at_counter(staff: Staff, pk: int, *, serial: str) -> AtCounter | None:
    """One piece that this member of staff may take in: one they see, or any whose whole serial they know."""
    pieces = Piece.objects.select_related("model__calibre", "owner", "boutique")
    visible = pieces.filter(pk__in=pieces_visible_to(staff).values("pk"), pk=pk).first()
    if visible:
        return _at_counter(visible, visible=True)
    key = serial_key(serial)
    elsewhere = pieces.filter(pk=pk, serial_key=key).first() if key else None
    return _at_counter(elsewhere, visible=False) if elsewhere else None


def _at_counter(piece: Piece, *, visible: bool) -> AtCounter:
    stop = stop_for(Status(piece.status or Status.IN_USE), Place(piece.place))
    return AtCounter(piece, shows_owner=visible and stop not in (Stop.LOST, Stop.STOLEN), stop=stop)


@dataclass(frozen=True, slots=True)
class BookedToday:
    """A piece that its owner has booked to bring today, and is not here yet."""

    piece: Piece
    visit: Visit


def booked_today(staff: Staff, now: datetime) -> list[BookedToday]:
    """What comes today at the boutiques that this member of staff serves, in order of time. Two statements.

    Visits are indexed by boutique, then day: the desk's are found by naming every boutique.
    """
    here = boutique_of(staff)
    day = day_at(here, now) if here else timezone.localdate(now)
    rows = VisitPiece.objects.filter(
        visit__day=day, visit__state__in=(VisitState.BOOKED, VisitState.CAME), piece__place=Place.OWNER
    ).exclude(piece__status__in=(Status.LOST, Status.STOLEN))
    boutiques = [here.pk] if here else list(Boutique.objects.values_list("pk", flat=True))
    rows = rows.filter(visit__boutique__in=[] if staff.role == Role.BOUTIQUE and not here else boutiques)
    rows = rows.select_related("piece__model", "piece__owner", "visit__boutique", "visit__owner")
    return [BookedToday(row.piece, row.visit) for row in rows.order_by("visit__starts_at", "piece__serial")[:PAGE]]


def boutique_of(staff: Staff) -> Boutique | None:
    """Where boutique staff stand; None for the desk and the manager, who say where a piece was handed in."""
    return Boutique.objects.filter(code=staff.boutique).first() if staff.role == Role.BOUTIQUE else None


def _by_whole_serial(text: str) -> list[Piece]:
    key = serial_key(text)
    return list(Piece.objects.filter(serial_key=key).select_related("model")[:5]) if key else []


def _by_number(text: str, staff: Staff) -> DropOff | None:
    number = number_meant(text)
    return drop_offs_visible_to(staff).filter(number=number).first() if number else None


def drop_offs_visible_to(staff: Staff) -> QuerySet[DropOff]:
    """All drop-offs for the desk and the manager; for a boutique its own."""
    rows = DropOff.objects.select_related("piece__model", "owner", "boutique", "taken_by")
    return rows.filter(boutique__code=staff.boutique) if staff.role == Role.BOUTIQUE else rows


def handed_back() -> Exists:
    """Whether a drop-off's piece went to its owner since."""
    return Exists(Custody.objects.filter(piece=OuterRef("piece"), place=Place.OWNER, pk__gt=OuterRef("move")))


def open_drop_off(piece: Piece, staff: Staff) -> DropOff | None:
    """The drop-off by which a piece is here now, where this member of staff may see it."""
    return drop_offs_visible_to(staff).filter(~handed_back(), piece=piece).order_by("-pk").first()


def day_at(boutique: Boutique, moment: datetime) -> date:
    """The day on a boutique's calendar."""
    zone = ZoneInfo(boutique.time_zone) if boutique.time_zone else timezone.get_default_timezone()
    return moment.astimezone(zone).date()
