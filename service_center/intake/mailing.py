"""The receipt of a drop-off to its owner by mail, once."""

from datetime import datetime

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.wording import language_of
from service_center.intake.models import DropOff
from service_center.intake.papers import receipt, signature_of, size_for
from service_center.letters.actions import Receipt, failed, is_reached, mail_receipt
from service_center.letters.calendars import zone_of
from service_center.letters.models import Letter, MailedReceipt


def receipt_letter_of(drop_off: DropOff) -> Letter | None:
    """The latest letter that brings a drop-off's receipt; None where none was written. One statement."""
    mailed = _mailed(drop_off)
    return mailed.letter if mailed else None


def _mailed(drop_off: DropOff) -> MailedReceipt | None:
    rows = MailedReceipt.objects.filter(number=drop_off.number).select_related("letter__owner").defer("paper")
    return rows.order_by("-attempt").first()


def goes_again(drop_off: DropOff, letter: Letter) -> bool:
    """Whether the receipt may be asked for again: its letter failed, and one can reach the owner now."""
    owner = drop_off.owner
    return owner is not None and failed(letter, owner) and is_reached(owner)


def mail_receipt_of(drop_off: DropOff, *, by: Staff, now: datetime) -> Letter | None:
    """Write the letter with the receipt, in the owner's language; asked again, the first is given back.

    Only where that one failed, and a letter can reach the owner now, another is written.

    The paper is made and kept now, with the text that was signed: what arrives is what stood there on this day. None
    where the owner is not known or no letter reaches them.
    """
    before, owner = _mailed(drop_off), drop_off.owner
    if before and not goes_again(drop_off, before.letter):
        return before.letter
    if owner is None or not is_reached(owner):
        return None
    signed, piece = signature_of(drop_off), drop_off.piece
    told = Receipt(
        number=drop_off.number,
        name=str(piece.model) if piece.model else piece.serial,
        serial=piece.serial,
        taken_on=drop_off.taken_on,
        boutique=drop_off.boutique,
        # Before the transaction: a paper takes longer than anybody should wait for a row.
        paper=receipt(drop_off, size=size_for(drop_off)),
        signed=signed.text if signed else "",
        attempt=before.attempt + 1 if before else 1,
    )
    with transaction.atomic():
        DropOff.objects.select_for_update(of=("self",)).get(pk=drop_off.pk)
        meanwhile = _mailed(drop_off)
        if meanwhile and meanwhile.attempt >= told.attempt:
            return meanwhile.letter
        on = now.astimezone(zone_of(owner.time_zone)).date()
        letter = mail_receipt(owner, told, language=language_of(owner), on=on, now=now)
        leave_trail(by=by, deed="mail_receipt", subject=f"piece:{piece.serial}", after={"drop_off": drop_off.number})
    return letter
