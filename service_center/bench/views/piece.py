"""Which piece a page of the bench is about, and who asks."""

from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from service_center.access.signed_in import staff_of
from service_center.book.models import Piece
from service_center.book.queries import pieces_visible_to


def piece_of(request: HttpRequest, pk: int) -> Piece:
    """A piece that this member of staff may see, or 404."""
    visible = pieces_visible_to(staff_of(request)).select_related("model__calibre", "owner", "boutique")
    return get_object_or_404(visible, pk=pk)
