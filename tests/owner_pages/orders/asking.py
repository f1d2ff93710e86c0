"""An order whose owner is asked, as the tests of its pages begin; and the words by which each language is known."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.test import Client
from django.utils import timezone

from service_center.access.models import Staff
from service_center.bench.orders import telling
from service_center.book.actions import move_piece
from service_center.book.models import Piece
from service_center.book.rules import EntryKind, Place
from service_center.letters.actions import SendResult, send_waiting
from service_center.workshop.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.actions import EstimateLine, open_order
from service_center.workshop.orders.rules.answers import Heard
from tests.letters.sink import Received
from tests.owner_pages.conftest import NOW, TODAY
from tests.workshop.hands import Hands

LINES = (
    EstimateLine("Overhaul", Decimal(480)),
    EstimateLine("Hairspring", Decimal(95), covered=True, because="A fault of manufacture."),
)
WORDS_ABOUT: dict[str, tuple[str, str, str, str]] = {
    "en": ("The estimate for your", "Agree: £480.00", "You agreed on 5 June 2026.", "is ready"),
    "de": ("Der Kostenvoranschlag für Ihre", "Zustimmen: 480,00 £", "Sie haben am 5. Juni 2026 zugestimmt.", "fertig"),
    "fr": ("Le devis pour votre", "Accepter : 480,00 £GB", "Vous avez accepté le 5 juin 2026.", "prête"),
    "it": ("Il preventivo per il Suo", "Accettare: 480,00 £", "Ha accettato il giorno 5 giugno 2026.", "pronto"),
    "es": ("El presupuesto para su", "Aceptar: 480,00 GBP", "Aceptó el 5 de junio de 2026.", "listo"),
    "ja": ("お見積りができました", "同意する：£480.00", "2026年6月5日にご同意をいただきました。", "準備ができました"),
}


def send() -> SendResult:
    return send_waiting(now=timezone.now(), until_empty=True)


def looked_at(piece: Piece, staff: Staff, number: str = "R-000042") -> WorkOrder:
    """An order of the owner's whose piece was looked at, and who is to be asked."""
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=NOW, by=staff)
    assert piece.boutique
    order = open_order(
        piece,
        number=number,
        boutique=piece.boutique,
        asked=[EntryKind.OVERHAUL],
        opened_on=TODAY,
        at=NOW,
        by=staff,
        promised_on=TODAY + timedelta(days=20),
    )
    return Hands(order, staff, TODAY).to("received", "diagnosed", asks=True)


def ask(
    order: WorkOrder,
    staff: Staff,
    *,
    lines: tuple[EstimateLine, ...] = LINES,
    until: date | None = None,
    note: str = "",
) -> Any:
    asked = telling.Asked(lines, "GBP", until or TODAY + timedelta(days=30), note)
    return telling.ask_owner(order, asked, on=TODAY, now=NOW, by=staff, form_key=uuid4())


@dataclass
class Told:
    """A letter about an order as its owner got it."""

    mail: Received
    address: str


def press(client: Client, told: Told, estimate: OrderEstimate, answer: str) -> Any:
    return client.post(f"{told.address}estimate/{estimate.pk}/answer/", {"answer": answer})


def made_ready(order: WorkOrder, staff: Staff) -> WorkOrder:
    hands = Hands(order, staff, TODAY)
    estimate = order.estimates.get()
    telling.hear_answer(estimate, agreed=False, heard=Heard.COUNTER, heard_by=staff, on=TODAY, at=NOW)
    return hands.to("ready")
