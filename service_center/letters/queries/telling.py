"""What letters that remind of nothing say, as it was written down then: of orders, receipts and visits."""

from collections.abc import Iterator, Sequence
from typing import TypedDict, TypeVar

from django.db.models import QuerySet

from service_center.letters.composing.letter import OrderContent, ReceiptContent, VisitContent
from service_center.letters.composing.wording import Wording
from service_center.letters.models import Confirmation, Letter, MailedReceipt, OrderWord
from service_center.letters.queries.wording import wordings_of
from service_center.letters.rules.words import OrderNews, VisitNews

Row = TypeVar("Row", Confirmation, MailedReceipt, OrderWord)


class Common(TypedDict):
    """What every such letter has beside what it tells: to whom, where, and in which words."""

    language: str
    owner_name: str
    boutique: str
    wording: Wording


def orders_told_of(letters: Sequence[Letter]) -> dict[int, OrderContent]:
    """What each letter says of an order, as it was written down then. Three statements, however many."""
    return {
        row.letter_id: OrderContent(
            **common,
            news=OrderNews(row.news),
            number=row.number,
            name=row.name,
            serial=row.serial,
            day=row.day,
            total=row.total,
            paper=bytes(row.paper),
        )
        for row, common in _written_down(OrderWord.objects.all(), letters)
    }


def receipts_told_of(letters: Sequence[Letter]) -> dict[int, ReceiptContent]:
    """What each letter with a receipt says, and the receipt as it was printed. Three statements, however many."""
    return {
        row.letter_id: ReceiptContent(
            **common,
            number=row.number,
            name=row.name,
            serial=row.serial,
            day=row.taken_on,
            paper=bytes(row.paper),
            signed=row.signed,
        )
        for row, common in _written_down(MailedReceipt.objects.all(), letters)
    }


def visits_told_of(letters: Sequence[Letter]) -> dict[int, VisitContent]:
    """What each confirmation says of its visit, as it was written down then. Three statements, however many."""
    return {
        row.letter_id: VisitContent(
            **common,
            news=VisitNews(row.news),
            day=row.day,
            at=row.at,
            pieces=tuple((name, serial) for name, serial in row.pieces),
            entry=row.entry,
        )
        for row, common in _written_down(Confirmation.objects.all(), letters)
    }


def _written_down(rows: QuerySet[Row], letters: Sequence[Letter]) -> Iterator[tuple[Row, Common]]:
    """What was written down of each letter, with what all of them have."""
    wordings, by_pk = wordings_of(letters), {letter.pk: letter for letter in letters}
    for row in rows.filter(letter__in=by_pk).select_related("boutique"):
        wording = wordings[row.letter_id]
        yield (
            row,
            Common(
                language=wording.language,
                owner_name=by_pk[row.letter_id].owner.name,
                boutique=row.boutique.name or row.boutique.code,
                wording=wording,
            ),
        )
