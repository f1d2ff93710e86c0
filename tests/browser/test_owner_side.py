"""An owner follows a piece, registers the extension, corrects their particulars and takes their data, in Chromium."""

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.utils import timezone, translation
from django.utils.translation import gettext
from playwright.sync_api import Browser, BrowserContext, Page

from service_center.access.rules import Role
from service_center.book.models import Owner, PostalAddress
from service_center.guarantee.models import ExtensionEnrolment
from service_center.intake.actions import take_in
from service_center.owner_pages.models import EmailChange, OwnerRequest
from tests.browser.test_axe import faults
from tests.browser.test_owner_pages import written_yesterday
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory, history
from tests.owner_pages.conftest import Sent

LONG_ADDRESS = f"{'ada.of.harrowmere.' * 3}winter@owners-and-watches.example"

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def a_letter(language: str, name: str = "Ada Winter") -> Sent:
    """About a piece bought a year ago, with a past, which stands at a boutique now."""
    cache.clear()
    today = timezone.localdate()
    owner = OwnerFactory(language=language, time_zone="UTC", name=name)
    boutique = BoutiqueFactory(name="Harrowmere", time_zone="UTC")
    piece = PieceFactory(serial="FH21-000042", owner=owner, boutique=boutique, sold_on=today - timedelta(days=365))
    history(piece, (today - timedelta(days=90)).isoformat(), kind="repair")
    sent = written_yesterday(piece)
    take_in(
        piece,
        form_key=uuid4(),
        boutique=boutique,
        by=StaffFactory(role="boutique", boutique=boutique.code),
        taken_on=today,
        at=timezone.now(),
        as_of=today,
        asked=[],
        owner_says="It stops at night.",
        left_with="",
        sitting=None,
    )
    return sent


@pytest.fixture(params=["en", "ja"])
def letter(request: pytest.FixtureRequest, site: str) -> Iterator[Sent]:
    with translation.override(request.param):
        yield a_letter(request.param)


@pytest.fixture
def page(chromium: Browser, site: str) -> Iterator[Page]:
    context = chromium.new_context(base_url=site, java_script_enabled=False, viewport={"width": 390, "height": 844})
    yield context.new_page()
    context.close()


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=gettext(name), exact=True).click()


def follow(page: Page, name: str) -> None:
    page.get_by_role("link", name=gettext(name), exact=True).click()


def said(page: Page, text: str) -> None:
    page.get_by_text(gettext(text)).first.wait_for()


def test_an_owner_does_all_that_is_theirs_on_a_telephone_without_javascript(
    letter: Sent, page: Page, tmp_path: Path
) -> None:
    owner = Owner.objects.get(pk=letter.letter.owner_id)
    page.goto(letter.address)
    follow(page, "Its history, papers and guarantee, and where it is")
    press(page, "Open")
    said(page, "Where it is now")
    assert "Harrowmere" in page.get_by_role("main").inner_text()
    press(page, "Register the extended guarantee")
    said(page, "Thank you. The extended guarantee is registered.")
    assert ExtensionEnrolment.objects.get().owner == owner
    with page.expect_download() as download:
        follow(page, "Download (PDF)")
    download.value.save_as(tmp_path / "receipt.pdf")
    assert (tmp_path / "receipt.pdf").read_bytes().startswith(b"%PDF-")
    follow(page, "Back to the letter")

    follow(page, "Your addresses, telephone and language")  # opened already: no second step
    page.get_by_label(gettext("Postal address")).fill("Quay 4\nHarrowmere")
    page.get_by_label(gettext("E-mail")).fill(LONG_ADDRESS)
    press(page, "Save")
    said(page, "Thank you. We have written it down.")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert PostalAddress.objects.get(owner=owner).lines == "Quay 4\nHarrowmere"
    press(page, "Leave my e-mail address as it is")
    page.get_by_role("button", name=gettext("Save")).wait_for()
    assert EmailChange.objects.get().withdrawn_at is not None
    follow(page, "Back to the letter")

    follow(page, "Your data: a copy, corrections, erasure")
    for button in ("To read (PDF)", "For another program (JSON)"):
        with page.expect_download() as download:
            press(page, button)
        download.value.save_as(tmp_path / button)
    copy = json.loads((tmp_path / "For another program (JSON)").read_text())
    assert copy["owner"]["postal_address"] == ["Quay 4", "Harrowmere"]
    page.locator("summary", has_text=gettext("Erase my data")).click()
    press(page, "Ask for erasure")
    said(page, "Thank you. A person looks at it.")
    assert OwnerRequest.objects.get(kind="erasure").state == "open"
    assert Owner.objects.get(pk=owner.pk).letters is False


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (834, "dark"), (1280, "light")])
def test_the_pages_of_the_owner_s_side_can_be_used_by_everybody(
    context_of: Callable[..., BrowserContext], site: str, width: int, scheme: str
) -> None:
    sent = a_letter("en", name="ליאורה ברק")
    piece = sent.letter.reminders.get().piece
    outside = context_of("", width=width, scheme=scheme).new_page()
    found = []
    outside.goto(f"{sent.address}details/")
    found += faults(outside, "the step before")
    press(outside, "Open")
    for address in (f"watch/{piece.pk}/", "details/", "data/"):
        outside.goto(sent.address + address)
        for fold in outside.locator("summary").all():
            fold.click()
        found += faults(outside, address)
        assert outside.evaluate("document.documentElement.scrollWidth") <= width
    outside.locator("textarea").fill("The strap was changed.")
    outside.get_by_role("button", name="Ask for this").click()
    said(outside, "Thank you. A person looks at it.")
    found += faults(outside, "what was asked")
    desk = context_of(Role.DESK, width=width, scheme=scheme).new_page()
    for address in ("/owners/", f"/owners/{OwnerRequest.objects.get().pk}/"):
        desk.goto(address)
        found += faults(desk, address)
    assert found == []
