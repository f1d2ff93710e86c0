"""Deeds of an order that its owner hears of: an estimate written, an answer heard, a piece that can be fetched.

Each is written with its letter in one transaction. Where no letter reaches the owner, they stand on the desk's list of
those to reach otherwise (design/letters.md).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import translation

from service_center.access.models import Staff
from service_center.bench.orders.estimate_paper import estimate_paper
from service_center.book.models import Owner
from service_center.book.rules import Place
from service_center.book.wording import language_of
from service_center.intake import money
from service_center.letters.actions import Word, end_order_words, mail_order_word, note_order_word
from service_center.letters.calendars import zone_of
from service_center.letters.models import Letter
from service_center.letters.rules.words import Channel, OrderNews
from service_center.workshop.orders.actions import (
    EstimateLine,
    answer_estimate,
    bring_to_boutique,
    locked_order,
    move_order,
    write_estimate,
)
from service_center.workshop.orders.models import EstimateAnswer, OrderEstimate, WorkOrder
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.steps import Step


@dataclass(frozen=True, slots=True)
class Asked:
    """What the owner is asked: lines, what they cost in one currency (ISO 4217), and until when it holds."""

    lines: Sequence[EstimateLine]
    currency: str
    valid_until: date
    note: str = ""


def ask_owner(order: WorkOrder, asked: Asked, *, on: date, now: datetime, by: Staff, form_key: UUID) -> OrderEstimate:
    """Write an estimate and the letter that brings it. The same form twice is one of each.

    Raises as `write_estimate` does; nothing is written then.
    """
    # Before the transaction: a paper takes longer than anybody should wait for a row.
    paper = estimate_paper(
        order, asked.lines, asked.currency, made_on=on, valid_until=asked.valid_until, note=asked.note
    )
    with transaction.atomic():
        estimate = write_estimate(
            order,
            asked.lines,
            currency=asked.currency,
            valid_until=asked.valid_until,
            note=asked.note,
            on=on,
            at=now,
            by=by,
            form_key=form_key,
        )
        if order.owner and not hasattr(estimate, "answer"):
            _mail(order.owner, _of_estimate(order, order.owner, estimate, paper), now)
    return estimate


@transaction.atomic
def hear_answer(
    estimate: OrderEstimate,
    *,
    agreed: bool,
    heard: Heard,
    heard_by: Staff | None,
    on: date,
    at: datetime,
    words: str = "",
) -> EstimateAnswer:
    """Keep the owner's answer; a letter that still asks for it does not go out. Raises as `answer_estimate` does."""
    answer = answer_estimate(estimate, agreed=agreed, heard=heard, heard_by=heard_by, on=on, at=at, words=words)
    end_order_words(estimate.order.number)
    return answer


@transaction.atomic
def move_on(
    order: WorkOrder,
    to: Step,
    *,
    on: date,
    at: datetime,
    by: Staff,
    reason: str = "",
    asks_owner: bool | None = None,
) -> WorkOrder:
    """Move an order as `move_order` does, and tell its owner what follows: of a piece that is ready where they fetch it.

    A letter that has not gone out, and that this move makes untrue, ends.
    """
    before = order.step
    moved = move_order(order, to, at=at, on=on, by=by, reason=reason, asks_owner=asks_owner)
    if moved.step != before:
        end_order_words(moved.number)
    if to is Step.READY and moved.piece.place == Place.BOUTIQUE:
        tell_ready(moved, on=on, now=at)
    return moved


@transaction.atomic
def bring_back(order: WorkOrder, *, on: date, at: datetime, by: Staff) -> WorkOrder:
    """Write down that a ready piece is back at its boutique, and tell its owner. Twice is once. Raises CannotMove."""
    brought = bring_to_boutique(order, at=at, by=by)
    tell_ready(brought, on=on, now=at)
    return brought


def tell_ready(order: WorkOrder, *, on: date, now: datetime) -> Letter | None:
    """Write the letter that a piece can be fetched, once for each time it became ready."""
    return _mail(order.owner, _of_ready(order, on), now) if order.owner else None


@transaction.atomic
def note_told(order: WorkOrder, channel: Channel, *, on: date, now: datetime, note: str, by: Staff) -> Letter | None:
    """Write down that the owner was told otherwise what is to be told now. None where nothing is, or no owner is known."""
    order = locked_order(order)
    owner = order.owner
    if owner is None:
        return None
    estimate = order.estimates.order_by("-pk").first()
    if order.step == Step.ESTIMATED and estimate:
        word = _of_estimate(order, owner, estimate, b"")
    elif order.step == Step.READY:
        word = _of_ready(order, on)
    else:
        return None
    return note_order_word(owner, word, channel, language=language_of(owner), on=on, now=now, note=note, by=by)


def _mail(owner: Owner, word: Word, now: datetime) -> Letter | None:
    on = now.astimezone(zone_of(owner.time_zone)).date()
    return mail_order_word(owner, word, language=language_of(owner), on=on, now=now)


def _of_estimate(order: WorkOrder, owner: Owner, estimate: OrderEstimate, paper: bytes) -> Word:
    with translation.override(language_of(owner)):
        total = money.written(estimate.total, estimate.currency)
    return Word(
        OrderNews.ESTIMATE,
        order.number,
        estimate.pk,
        order.piece,
        estimate.valid_until,
        order.boutique,
        total,
        paper,
    )


def _of_ready(order: WorkOrder, on: date) -> Word:
    move = order.moves.filter(step=Step.READY.value).order_by("-pk").values_list("pk", flat=True).first()
    return Word(OrderNews.READY, order.number, move or 0, order.piece, order.ready_on or on, order.boutique)
