"""An owner walks through each answer in Chromium, without JavaScript, and the page tells nobody where it is."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext
from playwright.sync_api import Browser, Page, Request

from service_center.book.models import Owner, Piece
from service_center.letters.models import Answer, Letter, OwnerLink
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory
from tests.owner_pages.conftest import Sent, send_about

pytestmark = [pytest.mark.browser]


def written_yesterday(piece: Piece) -> Sent:
    """As send_about, but by the clock that the browser has too."""
    sent, now = send_about(piece), timezone.now()
    Letter.objects.filter(pk=sent.letter.pk).update(written_at=now - timedelta(days=1))
    OwnerLink.objects.filter(letter=sent.letter).update(expires_at=now + timedelta(days=1))
    return sent


@pytest.fixture(params=["en", "de"])
def letter(request: pytest.FixtureRequest, site: str) -> Iterator[Sent]:
    """A letter to an owner of that language, which the test then speaks too."""
    cache.clear()
    owner = OwnerFactory(language=request.param, time_zone="UTC")
    boutique = BoutiqueFactory(name="Harrowmere")
    with translation.override(request.param):
        yield written_yesterday(PieceFactory(owner=owner, boutique=boutique))


@pytest.fixture
def page(chromium: Browser, site: str) -> Iterator[Page]:
    context = chromium.new_context(base_url=site, java_script_enabled=False, viewport={"width": 390, "height": 844})
    yield context.new_page()
    context.close()


def answer(page: Page, opening: str, button: str) -> None:
    """Unfold an answer and press its button."""
    page.locator("summary", has_text=gettext(opening)).first.click()
    page.get_by_role("button", name=gettext(button), exact=True).click()
    page.get_by_role("heading", name=gettext("Thank you")).wait_for()


def shown(page: Page) -> str:
    return page.get_by_role("main").inner_text()


def latest() -> Answer:
    return Answer.objects.latest("pk")


@pytest.mark.django_db(transaction=True)
def test_an_owner_gives_every_answer_and_takes_each_back(letter: Sent, page: Page) -> None:
    page.goto(letter.address)
    page.get_by_role("button", name=gettext("Book this visit")).click()
    page.get_by_role("heading", name=gettext("Thank you")).wait_for()
    booked = latest()
    assert booked.choice == "booked"
    assert booked.day is not None
    said = {"boutique": "Harrowmere", "day": date_format(booked.day)}
    assert gettext("You bring it to %(boutique)s on %(day)s.") % said in shown(page)

    answer(page, "Not now", "Ask me later")
    later = latest()
    assert later.choice == "not_now"
    assert later.day is not None
    assert date_format(later.day) in shown(page)

    done_on = timezone.localdate() - timedelta(days=30)
    page.locator("summary", has_text=gettext("It was done elsewhere")).click()
    page.get_by_label(gettext("On which day was it done?")).fill(done_on.isoformat())
    page.get_by_role("button", name=gettext("Tell us this day")).click()
    page.get_by_role("heading", name=gettext("Thank you")).wait_for()
    assert gettext("You told us that it was done elsewhere on %(day)s.") % {"day": date_format(done_on)} in shown(page)

    answer(page, "It is no longer mine", "It is no longer mine")
    assert latest().choice == "no_longer_mine"

    answer(page, "No more letters", "No more letters, please")
    assert Owner.objects.get(pk=letter.letter.owner_id).letters is False
    page.get_by_role("button", name=gettext("Write to me again")).click()
    page.get_by_role("heading", name=gettext("Thank you")).wait_for()
    assert Owner.objects.get(pk=letter.letter.owner_id).letters is True


@pytest.mark.django_db(transaction=True)
def test_the_address_with_its_secret_is_told_to_nobody(letter: Sent, page: Page, site: str) -> None:
    asked: list[Request] = []
    page.on("request", lambda request: asked.append(request))  # noqa: PLW0108  # a built-in is no listener
    page.goto(letter.address)
    page.get_by_role("button", name=gettext("Book this visit")).click()
    page.get_by_role("heading", name=gettext("Thank you")).wait_for()
    assert len(asked) > 5
    for request in asked:
        assert request.url.startswith(site)
        assert not request.all_headers().get("referer"), request.url
    [posted] = [request for request in asked if request.method == "POST"]
    assert posted.all_headers()["origin"] == "null"  # why the door's own check of forms exists


@pytest.mark.django_db(transaction=True)
def test_the_button_on_the_stop_page_stops_letters(letter: Sent, page: Page) -> None:
    page.goto(letter.stop_address)
    page.get_by_role("button", name=gettext("No more letters, please")).click()
    page.get_by_text(gettext("You get no more letters from us about the care of your watches.")).wait_for()
    assert Owner.objects.get(pk=letter.letter.owner_id).letters is False
