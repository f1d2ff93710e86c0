"""Through whose hands a piece went, and where it was on a day."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import zip_longest

from django.utils import timezone
from django.utils.translation import gettext as _

from service_center.book.models import Custody, Piece
from service_center.book.rules import Place
from service_center.pieces.timeline.moment import Moment, Sort, name_of
from service_center.pieces.wording import PLACES


@dataclass(frozen=True, slots=True)
class Holding:
    """Where a piece is on a day, and since when, by whose hand and why, as far as anybody wrote it down."""

    place: Place
    where: str
    since: date | None
    by: str
    reason: str


def moves(piece: Piece) -> Iterator[Moment]:
    """Every move, with the drop-off that put it into our hands, if one did. One statement.

    Drop-offs are of an app above this one; the row of a drop-off hangs on its move, and is read with it.
    """
    rows = list(
        Custody.objects.filter(piece=piece).select_related("boutique", "by", "drop_off").order_by("-since", "-pk")
    )
    for move, before in zip_longest(rows, rows[1:]):
        drop_off = getattr(move, "drop_off", None)
        yield Moment(
            timezone.localdate(move.since),
            9 if move.place == Place.OWNER else 3,
            _what(move, before.place if before else ""),
            frozenset({Sort.HANDS}),
            details=[_("by %(name)s") % {"name": name_of(move.by)}] if move.by else [],
            note=drop_off.owner_says if drop_off else "",
            drop_off=drop_off.pk if drop_off else None,
            drop_off_number=drop_off.number if drop_off else "",
            drop_off_at=move.boutique.code if drop_off and move.boutique else "",
        )


def holding_on(piece: Piece, as_of: date) -> Holding:
    """Who holds a piece at the end of a day. One statement. With its owner where no move says otherwise."""
    latest = None
    for move in Custody.objects.filter(piece=piece).select_related("boutique", "by").order_by("since", "pk"):
        if timezone.localdate(move.since) <= as_of:
            latest = move
    if latest is None:
        return Holding(Place.OWNER, str(PLACES[Place.OWNER]), None, "", "")
    place = Place(latest.place)
    where = _("At %(boutique)s") % {"boutique": latest.boutique} if place is Place.BOUTIQUE else str(PLACES[place])
    name = name_of(latest.by) if latest.by else ""
    return Holding(place, where, timezone.localdate(latest.since), name, latest.reason)


def _what(move: Custody, came_from: str) -> str:
    match move.place:
        case Place.BOUTIQUE if came_from == Place.WORKSHOP:
            return _("Back at %(boutique)s from the workshop") % {"boutique": move.boutique}
        case Place.BOUTIQUE:
            return _("Taken in at %(boutique)s") % {"boutique": move.boutique}
        case Place.WORKSHOP:
            return _("Came to the workshop")
        case _other:
            return _("Handed back to the owner")
