"""What a letter would say of a piece of the book, or of an example, in words that nobody has saved yet."""

from collections.abc import Mapping
from datetime import date, time, timedelta

from service_center.book.models import Piece
from service_center.book.rules import ServiceKind, serial_key
from service_center.letters.composing.letter import (
    LetterContent,
    OrderContent,
    PieceInLetter,
    ReceiptContent,
    VisitContent,
)
from service_center.letters.composing.wording import Wording, wording_in
from service_center.letters.queries.contents import pieces_as_told
from service_center.letters.queries.wording import house_texts
from service_center.letters.rules.words import OrderNews, VisitNews
from service_center.letters.wording.examples import Example, pieces_of_example

TOGETHER = 5


def wording_as_written(language: str, texts: Mapping[str, str]) -> Wording:
    """The wording as it would be with these texts, over what the house has saved. One statement."""
    return wording_in(language, frozenset((dict(house_texts([language])[language]) | dict(texts)).items()))


def example_letter(example: Example, case: str, wording: Wording, as_of: date) -> LetterContent:
    """A letter about invented pieces."""
    return _letter(example.owner, pieces_of_example(example, case, as_of), wording, as_of)


def letter_about(piece: Piece, case: str, wording: Wording, as_of: date) -> LetterContent | None:
    """A letter of a case about a piece, or all its owner's pieces. None where nothing of the kind ever falls due."""
    kind, _dot, step = case.partition(".")
    kinds = list(ServiceKind) if kind == "several" else [ServiceKind(kind)]
    pieces = [piece]
    if kind == "several" and piece.owner_id:
        others = (
            Piece.objects.filter(owner=piece.owner_id)
            .exclude(pk=piece.pk)
            .select_related("model__calibre", "boutique", "owner")
        )
        pieces += others.order_by("serial")[: TOGETHER - 1]
    told = pieces_as_told(pieces, kinds, step, as_of)
    return _letter(piece.owner.name if piece.owner else "", tuple(told), wording, as_of) if told else None


def piece_of(serial: str) -> Piece | None:
    """A piece by its serial number, as somebody types it. One statement, by index."""
    rows = Piece.objects.filter(serial_key=serial_key(serial)).select_related("model__calibre", "boutique", "owner")
    return rows.first() if serial.strip() else None


def _letter(owner: str, pieces: tuple[PieceInLetter, ...], wording: Wording, as_of: date) -> LetterContent:
    return LetterContent(0, wording.language, owner, as_of, pieces, wording)


def example_visit(example: Example, case: str, wording: Wording, as_of: date) -> VisitContent:
    """A letter about an invented visit."""
    [piece] = pieces_of_example(example, "overhaul.invitation", as_of)
    return VisitContent(
        language=wording.language,
        owner_name=example.owner,
        news=VisitNews(case.removeprefix("visit.")),
        day=as_of + timedelta(days=9),
        at=time(10, 30),
        boutique="Harrowmere",
        pieces=((piece.name, piece.serial),),
        wording=wording,
    )


def example_receipt(example: Example, wording: Wording, as_of: date) -> ReceiptContent:
    """A letter with the receipt of an invented drop-off; the paper itself is left out."""
    [piece] = pieces_of_example(example, "overhaul.invitation", as_of)
    return ReceiptContent(
        language=wording.language,
        owner_name=example.owner,
        number="D-000042",
        name=piece.name,
        serial=piece.serial,
        day=as_of,
        boutique="Harrowmere",
        wording=wording,
        signed="…",
    )


def example_order(example: Example, case: str, wording: Wording, as_of: date) -> OrderContent:
    """A letter about an invented order; the paper itself is left out."""
    [piece] = pieces_of_example(example, "overhaul.invitation", as_of)
    return OrderContent(
        language=wording.language,
        owner_name=example.owner,
        news=OrderNews(case.removeprefix("order.")),
        number="R-000042",
        name=piece.name,
        serial=piece.serial,
        day=as_of + timedelta(days=30),
        boutique="Harrowmere",
        total="480.00",
        wording=wording,
    )
