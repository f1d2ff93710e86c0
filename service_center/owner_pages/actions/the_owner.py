"""The owner of a letter, held while one of their deeds is written down."""

from service_center.book.models import Owner
from service_center.letters.models import Letter


class OwnerErasedError(Exception):
    """The owner was erased between the look that opened the page and the deed; nothing was written."""


def owner_held(letter: Letter) -> Owner:
    """The letter's owner, locked until the transaction ends. Raises OwnerErasedError."""
    owner = Owner.objects.select_for_update(no_key=True).get(pk=letter.owner_id)
    if owner.erased_on:
        raise OwnerErasedError
    return owner
