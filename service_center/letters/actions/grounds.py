"""On which ground letters about paid service go to an owner (facts.md, 7: the soft opt-in, or consent)."""

from datetime import date

from django.db import connection, transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.actions import set_letters
from service_center.book.models import Owner
from service_center.letters.actions.answering import record_answer
from service_center.letters.models import LetterGround
from service_center.letters.queries.grounds import latest_ground
from service_center.letters.rules.grounds import fault_of_ground
from service_center.letters.rules.words import AnswerChoice, Ground

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


class OwnerErased(ValueError):  # noqa: N818  # a refusal, named for what was found
    """The owner was erased between the look that opened the page and the deed; nothing was written."""


class ImpossibleGround(ValueError):  # noqa: N818  # a refusal, named for what was found
    """A ground on a day that cannot be. The message names the field and the reason (rules/grounds.py)."""


@transaction.atomic
def set_ground(owner: Owner, ground: Ground, *, on: date, wording: str, by: Staff, as_of: date) -> LetterGround:
    """Write down what an owner said to the desk of letters about paid service, and what follows for their letters.

    A ground turns their letters on; a withdrawal stops them, with what has not gone out, as if they had done it by the
    link. The trail says which ground took the place of which; the words stay with the ground. Raises NoWording,
    ImpossibleGround and OwnerErased.
    """
    owner = Owner.objects.select_for_update(no_key=True).get(pk=owner.pk)
    if owner.erased_on:
        raise OwnerErased
    latest = latest_ground(owner)
    before = Ground(latest.ground) if latest else None
    fault = fault_of_ground(ground, on, today=as_of, latest=before, latest_on=latest.on if latest else None)
    if fault:
        raise ImpossibleGround(fault)
    had_letters = owner.letters
    noted = note_ground(owner, ground, on=on, wording=wording, by=by)
    if ground is not Ground.WITHDRAWN:
        set_letters(owner, wanted=True)
    elif had_letters is not False:
        record_answer(
            owner=owner,
            letter=None,
            piece=None,
            choice=AnswerChoice.NO_MORE_LETTERS,
            day=None,
            boutique=None,
            on=on,
            by=by,
        )
    leave_trail(
        by=by,
        deed="letter_ground",
        subject=f"owner:{owner.code}",
        before={"letters": had_letters, "ground": before.value if before else None},
        after={"letters": ground is not Ground.WITHDRAWN, "ground": ground.value},
    )
    return noted


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
