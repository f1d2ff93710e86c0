"""The receipt of a drop-off to its owner by mail, once."""

from datetime import datetime

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.wording import language_of
from service_center.intake.models import DropOff
from service_center.intake.papers import receipt, signature_of, size_for
from service_center.letters.actions import Receipt, is_reached, mail_receipt
from service_center.letters.calendars import zone_of
from service_center.letters.models import Letter


def receipt_letter_of(drop_off: DropOff) -> Letter | None:
    """The letter that brings a drop-off's receipt; None where none was written. One statement."""
    return Letter.objects.filter(receipt__number=drop_off.number).select_related("owner").first()


def mail_receipt_of(drop_off: DropOff, *, by: Staff, now: datetime) -> Letter | None:
    """Write the letter with the receipt, in the owner's language; asked again, the first is given back.

    The paper is made and kept now, with the text that was signed: what arrives is what stood there on this day. None
    where the owner is not known or no letter reaches them.
    """
    before = receipt_letter_of(drop_off)
    owner = drop_off.owner
    if before or owner is None or not is_reached(owner):
        return before
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
    )
    with transaction.atomic():
        DropOff.objects.select_for_update(of=("self",)).get(pk=drop_off.pk)
        before = receipt_letter_of(drop_off)
        if before:
            return before
        on = now.astimezone(zone_of(owner.time_zone)).date()
        letter = mail_receipt(owner, told, language=language_of(owner), on=on, now=now)
        leave_trail(by=by, deed="mail_receipt", subject=f"piece:{piece.serial}", after={"drop_off": drop_off.number})
    return letter
