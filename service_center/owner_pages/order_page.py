"""What an owner sees of an order of theirs: where the work stands, and the estimate with its answer."""

from dataclasses import dataclass, replace
from datetime import date

from django.db.models import QuerySet

from service_center.bench.orders.estimate_paper import lines_of
from service_center.book.models import Owner, Piece
from service_center.book.rules import Place
from service_center.intake import money
from service_center.letters.models import Letter, OrderWord
from service_center.letters.rules.words import OrderNews
from service_center.owner_pages.order_words import (
    answer_in_words,
    next_in_words,
    no_longer_asked,
    promise_in_words,
    replaced_in_words,
    step_in_words,
)
from service_center.owner_pages.queries import letter_pieces
from service_center.workshop.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.rules.answers import is_valid
from service_center.workshop.orders.rules.steps import Step


@dataclass(frozen=True, slots=True)
class LineTold:
    """One line as the owner reads it. `price` empty: covered, and no price was said."""

    what: str
    price: str
    covered: bool
    because: str


@dataclass(frozen=True, slots=True)
class EstimateTold:
    """The latest estimate. `asks`: it waits for an answer; `can_agree`: and is valid still; `said`: what stands of it."""

    pk: int
    made_on: date
    valid_until: date
    lines: list[LineTold]
    total: str
    note: str
    asks: bool
    can_agree: bool
    said: str
    replaced: str


@dataclass(frozen=True, slots=True)
class OrderTold:
    """One order: its number, where it stands and for when it is promised, in words."""

    number: str
    stands: str
    next: str
    promise: str
    estimate: EstimateTold | None


def open_order_told(owner: Owner, piece: Piece, today: date) -> OrderTold | None:
    """The order that a piece is in the house for, where this owner brought it. Three statements."""
    order = _orders(owner).filter(piece=piece, closed_on=None).first()
    return _told(order, today) if order else None


def order_of_letter(letter: Letter, today: date) -> tuple[Piece, OrderTold] | None:
    """The order that a letter is about, also once it is over; None where the piece is its owner's no more.

    The estimate only where the letter asks for its answer: what the letter does not say is behind the step, on the
    page of the piece (reliability.md, B4).
    """
    word = OrderWord.objects.filter(letter=letter).defer("paper").first()
    piece = letter_pieces(letter).filter(pk=word.piece_id).first() if word else None
    order = _orders(letter.owner).filter(number=word.number).first() if word else None
    if word is None or piece is None or order is None:
        return None
    told = _told(order, today, of=word.key)
    return piece, told if word.news == OrderNews.ESTIMATE else replace(told, estimate=None)


def asks_for_answer(letter: Letter) -> bool:
    """Whether a letter is about an estimate. One statement."""
    return OrderWord.objects.filter(letter=letter, news=OrderNews.ESTIMATE).exists()


def estimate_of(letter: Letter, pk: int) -> OrderEstimate | None:
    """An estimate that a letter's link may show: of the letter's own pieces, and of an order of its owner's."""
    rows = OrderEstimate.objects.select_related("order__piece__model", "order__piece__owner", "order__boutique")
    return rows.filter(pk=pk, order__owner=letter.owner_id, order__piece__in=letter_pieces(letter)).first()


def _orders(owner: Owner) -> QuerySet[WorkOrder]:
    return WorkOrder.objects.filter(owner=owner).select_related("piece", "boutique")


def _told(order: WorkOrder, today: date, of: int | None = None) -> OrderTold:
    latest = order.estimates.select_related("answer").order_by("-pk").first()
    step = Step(order.step)
    waits = order.closed_on is None and step is not Step.READY
    return OrderTold(
        number=order.number,
        stands=step_in_words(step, Place(order.piece.place), boutique=str(order.boutique), closed_on=order.closed_on),
        next=next_in_words(step, Place(order.piece.place), number=order.number),
        promise=promise_in_words(order.promised_on, today) if order.promised_on and waits else "",
        estimate=_estimate(latest, step, today, of=of) if latest else None,
    )


def _estimate(one: OrderEstimate, step: Step, today: date, *, of: int | None) -> EstimateTold:
    answer = getattr(one, "answer", None)
    asks = answer is None and step is Step.ESTIMATED
    valid = is_valid(one.valid_until, today)
    said = ""
    if answer:
        said = answer_in_words(agreed=answer.agreed, on=answer.said_on)
    elif not asks or not valid:
        said = no_longer_asked(one.valid_until, over=asks)
    return EstimateTold(
        pk=one.pk,
        made_on=one.made_on,
        valid_until=one.valid_until,
        lines=[
            LineTold(
                line.what,
                money.written(line.price, one.currency) if line.price or not line.covered else "",
                line.covered,
                line.because,
            )
            for line in lines_of(one)
        ],
        total=money.written(one.total, one.currency),
        note=one.note,
        asks=asks,
        can_agree=asks and valid,
        said=said,
        replaced=replaced_in_words(one.made_on) if of is not None and of != one.pk else "",
    )
