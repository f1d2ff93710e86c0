"""The receipt of a drop-off by mail. It goes to everyone who can be reached, once, as safely as any letter."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from service_center.book.models import Boutique, Owner
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter, MailedReceipt, StoppedAddress
from service_center.letters.rules.addressing import one_address
from service_center.letters.rules.words import LetterSort, LetterState


@dataclass(frozen=True, slots=True)
class Receipt:
    """What goes: the drop-off's number, its piece, and the paper (PDF) with the signed text, empty for none.

    `attempt` counts from 1; a further one is for a receipt whose last letter failed.
    """

    number: str
    name: str
    serial: str
    taken_on: date
    boutique: Boutique
    paper: bytes
    signed: str
    attempt: int = 1


def mail_receipt(owner: Owner, receipt: Receipt, *, language: str, on: date, now: datetime) -> Letter | None:
    """Write the letter that brings a receipt; of one drop-off it is written once an attempt. `on`: the owner's day.

    It goes at once, in this `language`. None where no letter reaches the owner: nothing was written then.
    """
    if not is_reached(owner):
        return None
    try:
        with transaction.atomic():
            letter = Letter.objects.create(
                owner=owner, sort=LetterSort.RECEIPT.value, language=language, planned_on=on, not_before=now
            )
            MailedReceipt.objects.create(
                letter=letter,
                number=receipt.number,
                attempt=receipt.attempt,
                name=receipt.name,
                serial=receipt.serial,
                taken_on=receipt.taken_on,
                boutique=receipt.boutique,
                paper=receipt.paper,
                signed=receipt.signed,
            )
            ring_after_commit()
    except IntegrityError:  # somebody was first; if it was anything else there is no such row
        first = MailedReceipt.objects.select_related("letter")
        return first.get(number=receipt.number, attempt=receipt.attempt).letter
    return letter


def failed(letter: Letter, owner: Owner) -> bool:
    """Whether a letter did not reach its owner, so that it may be written again.

    It was refused, never went out, or went to another address than the owner has now.
    """
    if letter.state == LetterState.SENT:
        return bool(letter.email) and letter.email.lower() != owner.email.lower()
    return letter.state in {LetterState.REFUSED, LetterState.ENDED}


def is_reached(owner: Owner) -> bool:
    """Whether a letter can go to an owner's address. One statement."""
    return bool(one_address(owner.email)) and not StoppedAddress.objects.filter(email=owner.email.lower()).exists()
