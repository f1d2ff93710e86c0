"""How a piece began: made, sold, its guarantee extended."""

from collections.abc import Iterator

from django.utils.translation import gettext as _

from service_center.book.models import Piece
from service_center.pieces.timeline.moment import Moment


def beginnings(piece: Piece) -> Iterator[Moment]:
    """What the piece's own row says. No statement where its boutique is at hand."""
    if piece.made_on:
        yield Moment(piece.made_on, 0, _("Made"))
    if piece.sold_on:
        where = [_("at %(boutique)s") % {"boutique": piece.boutique}] if piece.boutique else []
        yield Moment(piece.sold_on, 1, _("Sold"), details=where)
    if piece.extension_enrolled_on:
        yield Moment(piece.extension_enrolled_on, 2, _("Extended guarantee registered"))
