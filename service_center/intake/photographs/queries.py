"""Which photographs a person may see, and where they lie."""

from enum import StrEnum

from django.core.files.storage import default_storage
from django.db.models import QuerySet

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Owner
from service_center.intake.photographs.models import Photograph

MOST_PHOTOGRAPHS = 20


class Size(StrEnum):
    """As large as it is kept, or small for lists and papers."""

    FULL = "full"
    SMALL = "small"


def file_of(key: str, size: Size) -> str:
    """Where a photograph lies in the site's own storage (DATA_DIR/files)."""
    return f"photographs/{key[:2]}/{key}-{size.value}.jpg"


def photographs_visible_to(staff: Staff) -> QuerySet[Photograph]:
    """All photographs for desk, benches and manager; for a boutique those of its own counter."""
    rows = Photograph.objects.select_related("draft__piece")
    return rows.filter(draft__boutique__code=staff.boutique) if staff.role == Role.BOUTIQUE else rows


def photographs_of_owner(owner: Owner) -> QuerySet[Photograph]:
    """The photographs of drop-offs that are this owner's: what their own page may show, once they were taken in.

    The drop-off names the owner of that day, so that who owns the piece later sees none of an earlier owner's.
    """
    return Photograph.objects.filter(draft__drop_off__owner=owner).select_related("draft__drop_off")


def content_of(photograph: Photograph, size: Size) -> bytes:
    """The picture as JPEG. Raises FileNotFoundError where the disk has lost it."""
    with default_storage.open(file_of(photograph.key, size)) as file:
        content: bytes = file.read()
    return content
