"""What letters that remind of nothing say, as it was written down then: of orders, receipts and visits."""

from collections.abc import Sequence

from service_center.letters.composing.letter import OrderContent, ReceiptContent, VisitContent
from service_center.letters.models import Confirmation, Letter, MailedReceipt, OrderWord
from service_center.letters.queries.wording import wordings_of
from service_center.letters.rules.words import OrderNews, VisitNews


def orders_told_of(letters: Sequence[Letter]) -> dict[int, OrderContent]:
    """What each letter says of an order, as it was written down then. Three statements, however many."""
    wordings = wordings_of(letters)
    by_pk = {letter.pk: letter for letter in letters}
    rows = OrderWord.objects.filter(letter__in=by_pk).select_related("boutique")
    return {
        row.letter_id: OrderContent(
            language=wordings[row.letter_id].language,
            owner_name=by_pk[row.letter_id].owner.name,
            news=OrderNews(row.news),
            number=row.number,
            name=row.name,
            serial=row.serial,
            day=row.day,
            boutique=row.boutique.name or row.boutique.code,
            total=row.total,
            wording=wordings[row.letter_id],
            paper=bytes(row.paper),
        )
        for row in rows
    }


def receipts_told_of(letters: Sequence[Letter]) -> dict[int, ReceiptContent]:
    """What each letter with a receipt says, and the receipt as it was printed. Three statements, however many."""
    wordings = wordings_of(letters)
    by_pk = {letter.pk: letter for letter in letters}
    rows = MailedReceipt.objects.filter(letter__in=by_pk).select_related("boutique")
    return {
        row.letter_id: ReceiptContent(
            language=wordings[row.letter_id].language,
            owner_name=by_pk[row.letter_id].owner.name,
            number=row.number,
            name=row.name,
            serial=row.serial,
            day=row.taken_on,
            boutique=row.boutique.name or row.boutique.code,
            wording=wordings[row.letter_id],
            paper=bytes(row.paper),
            signed=row.signed,
        )
        for row in rows
    }


def visits_told_of(letters: Sequence[Letter]) -> dict[int, VisitContent]:
    """What each confirmation says of its visit, as it was written down then. Three statements, however many."""
    wordings = wordings_of(letters)
    by_pk = {letter.pk: letter for letter in letters}
    rows = Confirmation.objects.filter(letter__in=by_pk).select_related("boutique")
    return {
        row.letter_id: VisitContent(
            language=wordings[row.letter_id].language,
            owner_name=by_pk[row.letter_id].owner.name,
            news=VisitNews(row.news),
            day=row.day,
            at=row.at,
            boutique=row.boutique.name or row.boutique.code,
            pieces=tuple((name, serial) for name, serial in row.pieces),
            wording=wordings[row.letter_id],
            entry=row.entry,
        )
        for row in rows
    }
