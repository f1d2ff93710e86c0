"""The estimate that an owner is asked about, and the answer."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from service_center.access.models import Staff
from service_center.workshop.orders.actions.moving import locked_order, write_move
from service_center.workshop.orders.models import EstimateAnswer, OrderEstimate, WorkOrder
from service_center.workshop.orders.queries.control import standing_of
from service_center.workshop.orders.rules.answers import Heard, is_valid
from service_center.workshop.orders.rules.steps import Step, check_move


@dataclass(frozen=True, slots=True)
class EstimateLine:
    """One line as the owner reads it. A covered line costs them nothing, whatever its price."""

    what: str
    price: Decimal
    covered: bool = False
    because: str = ""

    def __post_init__(self) -> None:
        if not self.price.is_finite() or self.price < 0:
            raise ValueError(f"price: 0 or more, not {self.price}")
        if not self.what.strip():
            raise ValueError("what: say what is done")

    def record(self) -> dict[str, str | bool]:
        """As JSON: the price as decimal text."""
        return {"what": self.what, "price": str(self.price), "covered": self.covered, "because": self.because}


class NotAsked(ValueError):  # noqa: N818  # a refusal, named as the desk would say it
    """No estimate of the order waits for an answer, or another replaced this one."""


class AnsweredBefore(ValueError):  # noqa: N818  # the same
    """The estimate has another answer already."""


class OutOfDate(ValueError):  # noqa: N818  # the same
    """The estimate's last day is over."""


@transaction.atomic
def write_estimate(
    order: WorkOrder,
    lines: Sequence[EstimateLine],
    *,
    currency: str,
    valid_until: date,
    note: str,
    on: date,
    at: datetime,
    by: Staff,
    form_key: UUID,
) -> OrderEstimate:
    """Write what the work will cost, and take the order to `estimated`. A later estimate replaces an earlier one.

    The same form twice is one estimate. Raises CannotMove where nobody has looked at the piece or it is past the
    bench, and ValueError for no lines or a last day before today; nothing is written then.
    """
    locked = locked_order(order)
    before = OrderEstimate.objects.filter(form_key=form_key).first()
    if before:
        return before
    if not lines:
        raise ValueError("lines: an estimate has at least one")
    if valid_until < on:
        raise ValueError("valid_until: the estimate would be over before it is read")
    check_move(standing_of(locked), Step.ESTIMATED)
    total = sum((line.price for line in lines if not line.covered), Decimal(0))
    estimate = OrderEstimate.objects.create(
        form_key=form_key,
        order=locked,
        lines=[line.record() for line in lines],
        total=total,
        currency=currency,
        valid_until=valid_until,
        note=note,
        made_on=on,
        made_at=at,
        made_by=by,
    )
    locked.asks_owner = True
    write_move(locked, Step.ESTIMATED, at=at, by=by, reason="")
    return estimate


@transaction.atomic
def answer_estimate(
    estimate: OrderEstimate,
    *,
    agreed: bool,
    heard: Heard,
    heard_by: Staff | None,
    on: date,
    at: datetime,
    words: str = "",
) -> EstimateAnswer:
    """Keep the owner's answer and take the order on, to `agreed` or `declined`. The same answer twice is one.

    Raises AnsweredBefore for another one, NotAsked where a later estimate replaced this one or the order went on,
    OutOfDate for a yes after the last day; nothing is written then.
    """
    locked = locked_order(estimate.order)
    known = EstimateAnswer.objects.filter(estimate=estimate).first()
    if known:
        if known.agreed is agreed:
            return known
        raise AnsweredBefore(str(known.agreed))
    latest = locked.estimates.order_by("-pk").first()
    if latest is None or latest.pk != estimate.pk or locked.step != Step.ESTIMATED:
        raise NotAsked(locked.step)
    if agreed and not is_valid(estimate.valid_until, on):
        raise OutOfDate(estimate.valid_until.isoformat())
    answer = EstimateAnswer.objects.create(
        estimate=estimate, agreed=agreed, heard=heard.value, heard_by=heard_by, words=words, said_on=on, said_at=at
    )
    write_move(locked, Step.AGREED if agreed else Step.DECLINED, at=at, by=heard_by, reason="")
    return answer
