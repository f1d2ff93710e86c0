"""On which ground letters about paid service go to an owner (facts.md, 7: the soft opt-in, or consent)."""

from datetime import date

from django.db import connection, transaction

from service_center.access.models import Staff
from service_center.book.models import Owner
from service_center.letters.models import LetterGround
from service_center.letters.rules.words import Ground

IMPORTED = (
    "Brought in with the house's book, where it stood that this owner has letters: a customer of the house, written to "
    "about care for their own watch; each letter offers a way to refuse more."
)


class NoWording(ValueError):  # noqa: N818  # a refusal, named for what was found
    """A ground without the words in which it was given."""


def note_ground(owner: Owner, ground: Ground, *, on: date, wording: str, by: Staff | None) -> LetterGround:
    """Write down on which ground an owner has letters from a day on, and the words they were told or said.

    Raises NoWording.
    """
    if not wording.strip():
        raise NoWording("wording: missing")
    return LetterGround.objects.create(owner=owner, ground=ground.value, on=on, wording=wording.strip(), recorded_by=by)


@transaction.atomic
def note_existing_customers(*, on: date, wording: str = IMPORTED, by: Staff | None = None) -> int:
    """Write down the existing-customer ground of every owner who has letters and no ground yet. One statement."""
    with connection.cursor() as cursor:
        cursor.execute(
            'INSERT INTO letters_letterground (owner_id, ground, "on", wording, recorded_at, recorded_by_id) '
            "SELECT o.id, %s, %s, %s, CURRENT_TIMESTAMP, %s FROM book_owner o WHERE o.letters = %s "
            "AND NOT EXISTS (SELECT 1 FROM letters_letterground g WHERE g.owner_id = o.id)",
            [Ground.EXISTING_CUSTOMER.value, on, wording, by.pk if by else None, True],
        )
        return int(cursor.rowcount)
