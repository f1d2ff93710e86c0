"""A box of pieces at the door: which code names which order, what is expected, and what came today."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Min

from service_center.book.models import Piece
from service_center.book.rules import Place, serial_key
from service_center.intake.rules import number_meant
from service_center.workshop.orders.models import OrderMove, WorkOrder
from service_center.workshop.orders.rules.steps import Step

RECENT = 60


@dataclass(frozen=True, slots=True)
class OnTheirWay:
    """Pieces logged at one boutique that the workshop does not have, since when the first of them waits."""

    boutique: str
    pieces: int
    since: date


@dataclass(frozen=True, slots=True)
class Scanned:
    """What a code named. `order` None: no open order; `piece`: the piece it names all the same, where there is one."""

    code: str
    order: WorkOrder | None
    piece: Piece | None


def scanned(code: str) -> Scanned:
    """The open order that a code names: its number, or its piece's serial. Two statements at most."""
    orders = WorkOrder.objects.filter(closed_on=None).select_related("piece__model", "boutique")
    number = number_meant(code)
    if number:
        found = orders.filter(number=number).first()
        if found:
            return Scanned(code, found, found.piece)
    piece = Piece.objects.filter(serial_key=serial_key(code)).select_related("model").first()
    return Scanned(code, orders.filter(piece=piece).first() if piece else None, piece)


def on_their_way() -> list[OnTheirWay]:
    """Orders that the workshop waits for, by boutique. One statement. A strap is changed at the counter."""
    rows = (
        WorkOrder.objects.filter(closed_on=None, step=Step.LOGGED.value, piece__place=Place.BOUTIQUE.value)
        .exclude(kind="strap")
        .values_list("boutique__name", "boutique__code")
        .annotate(n=Count("pk"), since=Min("opened_on"))
        .order_by("since")
    )
    return [OnTheirWay(name or code, number, since) for name, code, number, since in rows]


def received_since(at: datetime) -> list[OrderMove]:
    """What was received lately, the latest first. One statement."""
    return list(
        OrderMove.objects.filter(step=Step.RECEIVED.value, at__gte=at)
        .select_related("order__piece__model", "order__boutique", "by")
        .order_by("-pk")[:RECENT]
    )


def ready_to_go() -> list[WorkOrder]:
    """Ready pieces that are at the workshop still, to be sent to their boutiques. One statement."""
    return list(
        WorkOrder.objects.filter(closed_on=None, step=Step.READY.value, piece__place=Place.WORKSHOP.value)
        .select_related("piece__model", "boutique")
        .order_by("boutique", "promised_on")[:RECENT]
    )


def since_this_morning(now: datetime) -> datetime:
    """From when a box counts as today's."""
    return now - timedelta(hours=12)
