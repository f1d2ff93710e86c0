"""An order's page in Chromium: the deeds by keyboard and tap, and an owner who agrees in two languages."""

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.utils import timezone, translation
from django.utils.translation import gettext
from playwright.sync_api import BrowserContext, expect

from service_center.access.rules import Role
from service_center.bench.orders import telling
from service_center.book.actions import move_piece
from service_center.book.rules import EntryKind, Place
from service_center.letters.models import Letter
from service_center.workshop.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.actions import EstimateLine, open_order
from tests.browser.test_axe import faults
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory
from tests.owner_pages.conftest import make_link
from tests.workshop.hands import Hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def looked_at(language: str = "en") -> WorkOrder:
    """An overhaul at the workshop, whose owner is to be asked."""
    cache.clear()
    now, today, staff = timezone.now(), timezone.localdate(), StaffFactory(role="watchmaker")
    boutique = BoutiqueFactory(name="Harrowmere", time_zone="UTC")
    owner = OwnerFactory(language=language, time_zone="UTC", name="Ada Winter")
    piece = PieceFactory(serial="FH21-000042", owner=owner, boutique=boutique)
    move_piece(piece, to=Place.BOUTIQUE, boutique=boutique, at=now, by=staff)
    order = open_order(
        piece, number="R-000042", boutique=boutique, asked=[EntryKind.OVERHAUL], opened_on=today, at=now, by=staff,
        promised_on=today + timedelta(days=20),
    )  # fmt: skip
    return Hands(order, staff, today).to("received", "diagnosed", asks=True)


def asked(order: WorkOrder) -> str:
    """The estimate is written; the address that its letter has."""
    now, today = timezone.now(), timezone.localdate()
    lines = [
        EstimateLine("Overhaul, with all that belongs to it", Decimal(480)),
        EstimateLine("Hairspring", Decimal(95), covered=True, because="A fault of manufacture."),
    ]
    told = telling.Asked(lines, "GBP", today + timedelta(days=30), "The strap stays as it is.")
    telling.ask_owner(order, told, on=today, now=now, by=StaffFactory(), form_key=uuid4())
    secret = "page-of-an-order-" + "x" * 26
    make_link(Letter.objects.get(sort="order"), "page", secret, expires_at=now + timedelta(days=30))
    return f"/o/{secret}/"


@pytest.mark.parametrize("language", ["en", "ja"])
@pytest.mark.parametrize("agrees", [True, False])
def test_an_owner_answers_an_estimate_on_a_telephone(
    context_of: Callable[..., BrowserContext], site: str, language: str, agrees: bool
) -> None:
    address = asked(looked_at(language))
    page = context_of("", width=390).new_page()
    page.goto(address)
    with translation.override(language):
        button = gettext("Agree: %(total)s").split("%")[0] if agrees else gettext("Decline")
        page.get_by_role("button", name=re.compile(f"^{re.escape(button)}")).click()
        expect(page.get_by_role("heading", name=gettext("Thank you"))).to_be_visible()
        said = gettext("You agreed on %(day)s.") if agrees else gettext("You declined on %(day)s.")
        before, after = said.split("%(day)s")
        told = re.compile(f"^{re.escape(before)}.+{re.escape(after)}$")
        expect(page.get_by_role("status").filter(has_text=told)).to_be_visible()
    assert WorkOrder.objects.get().step == ("agreed" if agrees else "declined")


def test_a_refused_deed_says_why_beside_its_button_and_what_was_typed_stands_there(
    context_of: Callable[..., BrowserContext], site: str
) -> None:
    order = looked_at()
    asked(order)
    page = context_of(Role.DESK, width=834).new_page()
    page.goto("/orders/R-000042/")
    page.get_by_role("radio", name="agrees").check()
    page.get_by_label("In their words").fill("Yes, gladly.")
    estimate = OrderEstimate.objects.get()
    telling.ask_owner(
        order, telling.Asked([EstimateLine("Overhaul", Decimal(530))], "GBP", estimate.valid_until, ""),
        on=timezone.localdate(), now=timezone.now(), by=StaffFactory(), form_key=uuid4(),
    )  # fmt: skip
    page.get_by_role("button", name="Keep the answer").click()
    form = page.locator("#deed-answer")
    expect(form.get_by_role("alert")).to_contain_text("another estimate was written")
    expect(form.get_by_label("In their words")).to_have_value("Yes, gladly.")


@pytest.mark.parametrize(("width", "scheme"), [(834, "dark"), (1280, "light")])
def test_the_pages_of_orders_can_be_used_by_everybody(
    context_of: Callable[..., BrowserContext], site: str, width: int, scheme: str
) -> None:
    found = []
    order = looked_at()
    desk = context_of(Role.DESK, width=width, scheme=scheme).new_page()
    for address in ("/orders/", "/orders/R-000042/", "/orders/R-000042/estimate/"):
        desk.goto(address)
        found += look(desk, address, width)
    of_letter = asked(order)
    desk.goto("/orders/R-000042/")
    found += look(desk, "asked", width)
    outside = context_of("", width=width, scheme=scheme).new_page()
    outside.goto(of_letter)
    found += look(outside, "the owner's", width)
    assert found == []


def look(page, where: str, width: int) -> list[str]:
    for fold in page.locator("summary").all():
        fold.click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    return faults(page, where)
