"""An owner books, misses, moves and cancels a place in Chromium, on a telephone and without JavaScript."""

from collections.abc import Callable, Iterator
from datetime import time, timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.utils import timezone, translation
from django.utils.translation import gettext
from icalendar import Calendar
from playwright.sync_api import Browser, BrowserContext, Page

from service_center.access.rules import Role
from service_center.book.models import Boutique
from service_center.intake.visits import actions
from service_center.intake.visits.actions import Wish
from service_center.intake.visits.models import OpeningHours, Visit
from tests.browser.test_axe import faults
from tests.browser.test_owner_pages import written_yesterday
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory
from tests.owner_pages.conftest import Sent

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def boutique(site: str) -> Boutique:
    """Open every day from ten to noon, one owner at a time."""
    cache.clear()
    made: Boutique = BoutiqueFactory(name="Harrowmere", country="", time_zone="UTC")
    for weekday in range(7):
        OpeningHours.objects.create(boutique=made, weekday=weekday, opens=time(10), closes=time(12), places=1)
    return made


@pytest.fixture(params=["en", "de"])
def letter(request: pytest.FixtureRequest, boutique: Boutique) -> Iterator[Sent]:
    """A letter to an owner of that language, which the test then speaks too."""
    owner = OwnerFactory(language=request.param, time_zone="UTC", country="")
    with translation.override(request.param):
        yield written_yesterday(PieceFactory(serial="FH21-000042", owner=owner, boutique=boutique))


@pytest.fixture
def page(chromium: Browser, site: str) -> Iterator[Page]:
    context = chromium.new_context(base_url=site, java_script_enabled=False, viewport={"width": 390, "height": 844})
    yield context.new_page()
    context.close()


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def headed(page: Page, text: str) -> None:
    page.get_by_role("heading", name=gettext(text), exact=True).wait_for()


def take_the_place(boutique: Boutique, at: time) -> Visit:
    """Somebody else is faster."""
    piece = PieceFactory(boutique=boutique)
    sent, now = written_yesterday(piece), timezone.now()
    wish = Wish(boutique, now.date() + timedelta(days=1), at)
    return actions.book(sent.letter, [piece], wish, form_key=uuid4(), on=now.date(), now=now)


def test_an_owner_books_misses_moves_and_cancels_a_visit(
    letter: Sent, page: Page, boutique: Boutique, tmp_path: Path
) -> None:
    page.goto(letter.address)
    page.get_by_role("link", name=gettext("Book a visit"), exact=True).click()
    headed(page, "Book a visit")
    take_the_place(boutique, time(10, 30))  # while our owner looks at the page
    press(page, "10:30")
    page.get_by_text(gettext("Somebody else has just taken this place.")).wait_for()
    assert not Visit.objects.filter(owner=letter.letter.owner_id).exists()
    page.get_by_role("alert").get_by_role("button").first.click()  # the next place
    headed(page, "Your visit is booked")
    visit = Visit.objects.get(owner=letter.letter.owner_id)
    assert visit.at == time(11)

    page.get_by_role("link", name=gettext("Move the visit")).click()
    page.get_by_role("listitem").nth(3).get_by_role("link").click()  # another day
    press(page, "10:00")
    headed(page, "Your visit is booked")
    visit.refresh_from_db()
    assert (visit.at, visit.sequence) == (time(10), 1)

    with page.expect_download() as download:
        page.get_by_role("link", name=gettext("Add it to my calendar")).click()
    download.value.save_as(tmp_path / "visit.ics")
    [event] = Calendar.from_ical((tmp_path / "visit.ics").read_bytes()).events
    assert event.start == visit.starts_at

    page.locator("summary", has_text=gettext("Cancel the visit")).click()
    press(page, gettext("Cancel the visit"))
    headed(page, "This visit is cancelled")
    page.get_by_role("link", name=gettext("Back to the letter")).click()
    page.get_by_role("link", name=gettext("Book a visit"), exact=True).wait_for()


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (834, "dark"), (1280, "light")])
def test_the_pages_of_visits_can_be_used_by_everybody(
    context_of: Callable[..., BrowserContext], boutique: Boutique, site: str, width: int, scheme: str
) -> None:
    piece = PieceFactory(boutique=boutique)
    sent = written_yesterday(piece)
    visit = take_the_place(boutique, time(11))
    own = {
        f"{sent.address}visit/?piece={piece.serial}": "the choice of a place",
        f"{sent.address}": "the letter",
    }
    staff = {
        f"/counter/visits/?day={visit.day.isoformat()}": "the day's visits",
        "/counter/opening-hours/": "the opening hours",
    }
    found = []
    for addresses, role in ((own, ""), (staff, Role.DESK)):
        page = context_of(role, width=width, scheme=scheme).new_page()
        for address, where in addresses.items():
            assert page.goto(address).status == 200  # type: ignore[union-attr]
            found += faults(page, where)
    assert found == []
