"""On which ground an owner has letters."""

from service_center.book.models import Owner
from service_center.letters.models import LetterGround


def latest_ground(owner: Owner) -> LetterGround | None:
    """The latest ground that was written down, with its day and its words. One statement, by index."""
    return LetterGround.objects.filter(owner=owner).order_by("-pk").first()
