"""An owner's orders on the copy of their data to read: each with what it cost, what they said, and what they were told."""

from collections.abc import Iterator
from datetime import date

from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service_center.bench.orders.estimate_paper import lines_of
from service_center.book.days import day_written
from service_center.book.models import Owner
from service_center.book.rules import Place
from service_center.book.wording import quoted, said_of
from service_center.intake import money
from service_center.letters.models import OrderWord
from service_center.letters.rules.words import OrderNews
from service_center.owner_pages.copying_orders import OrderKept, orders_kept
from service_center.owner_pages.data_part import Part, given
from service_center.owner_pages.data_words import sent_in_words
from service_center.owner_pages.order_words import answer_in_words, step_in_words
from service_center.owner_pages.piece_words import KINDS
from service_center.workshop.models import EstimateAnswer, OrderEstimate, WorkOrder
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.steps import Step

NEWS: dict[str, str | Promise] = {
    OrderNews.ESTIMATE: gettext_lazy("the estimate is ready"),
    OrderNews.READY: gettext_lazy("your watch can be fetched"),
}
HEARD: dict[str, str | Promise] = {
    Heard.PAGE: gettext_lazy("on your page"),
    Heard.COUNTER: gettext_lazy("at the counter"),
    Heard.TELEPHONE: gettext_lazy("by telephone"),
    Heard.PAPER: gettext_lazy("on paper"),
}


def order_parts(owner: Owner) -> list[Part]:
    """One part an order, in the language that is active. Three statements."""
    return [_part(kept) for kept in orders_kept(owner)]


def word_in_words(word: OrderWord) -> str:
    """What a letter told of an order."""
    return _("Order %(number)s: %(news)s") % {"number": word.number, "news": NEWS[word.news]}


def _part(kept: OrderKept) -> Part:
    order = kept.order
    lines = sorted([*_said(kept), *_told(kept)], key=lambda one: one[0])
    return Part(
        _("Order %(number)s") % {"number": order.number},
        given(
            (_("Serial"), order.piece.serial),
            (_("Work"), str(KINDS[order.kind])),
            (_("Brought on"), day_written(order.opened_on)),
            (_("Agreed at the counter"), _agreed(order)),
            (_("Promised for"), day_written(order.promised_on) if order.promised_on else ""),
            (_("Ready on"), day_written(order.ready_on) if order.ready_on else ""),
            (_("Where it stands"), _stands(order)),
        ),
        [(day_written(day), said) for day, said in lines],
    )


def _agreed(order: WorkOrder) -> str:
    return "" if order.agreed_total is None else money.written(order.agreed_total, order.agreed_currency)


def _stands(order: WorkOrder) -> str:
    place = Place(order.piece.place)
    return step_in_words(Step(order.step), place, boutique=str(order.boutique), closed_on=order.closed_on)


def _said(kept: OrderKept) -> Iterator[tuple[date, str]]:
    for estimate in kept.estimates:
        yield estimate.made_on, _estimate(estimate)
        answer: EstimateAnswer | None = getattr(estimate, "answer", None)
        if answer:
            words = f" {quoted(answer.words)}" if answer.words else ""
            yield (
                answer.said_on,
                f"{answer_in_words(agreed=answer.agreed, on=answer.said_on)} ({HEARD[answer.heard]}){words}",
            )


def _estimate(estimate: OrderEstimate) -> str:
    lines = []
    for line in lines_of(estimate):
        price = money.written(line.price, estimate.currency) if line.price is not None else ""
        covered = _("covered") if line.covered else ""
        if covered and line.because:
            covered = said_of(covered, line.because)
        lines.append(" · ".join(text for text in (line.what, price, covered) if text))
    return _("Estimate, valid until %(day)s: %(lines)s. You pay %(total)s.") % {
        "day": day_written(estimate.valid_until),
        "lines": "; ".join(lines),
        "total": money.written(estimate.total, estimate.currency),
    } + (f" {estimate.note}" if estimate.note else "")


def _told(kept: OrderKept) -> Iterator[tuple[date, str]]:
    for word in kept.words:
        yield word.letter.planned_on, said_of(capfirst(str(NEWS[word.news])), sent_in_words(word.letter))
