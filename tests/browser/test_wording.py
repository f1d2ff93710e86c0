"""The desk writes the words of letters in Chromium: looking before saving, in the frame beside the fields."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from service_center.letters.models import HouseText
from tests.browser.test_axe import faults
from tests.factories import OwnerFactory, PieceFactory, StaffFactory
from tests.letters.wording.test_pages import save

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (834, "dark")])
def test_the_desk_looks_at_its_words_on_a_piece_before_it_saves_them(
    context_of: Callable[..., BrowserContext], width: int, scheme: str
) -> None:
    piece = PieceFactory(owner=OwnerFactory(name="Marit Solheim"))
    page = context_of("desk", width=width, scheme=scheme).new_page()
    page.goto("/letters/wording/fr/overhaul-invitation/")
    frame = page.frame_locator("iframe")
    expect(frame.get_by_text("Bonjour Ada Winter,")).to_be_visible()
    page.get_by_label("First sentences").fill("{owner}, votre {piece} nous manque.")
    page.get_by_label("Or a piece of the book").fill(piece.serial)
    page.get_by_role("button", name="Look", exact=True).click()
    expect(frame.get_by_text("Marit Solheim, votre Skerry nous manque.")).to_be_visible()
    page.get_by_role("button", name="Look at the plain text").click()
    expect(frame.get_by_text("Prenez rendez-vous ou répondez-nous ici")).to_be_visible()
    assert not HouseText.objects.exists()
    page.get_by_label("Subject").fill("Votre {montre}")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("“{montre}” is not known here.")).to_be_visible()
    expect(page.get_by_label("First sentences")).to_have_value("{owner}, votre {piece} nous manque.")
    page.get_by_label("Subject").fill("Votre {piece}")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Saved. Letters that go out from now on say so.")).to_be_visible()
    assert HouseText.objects.count() == 2
    assert faults(page, "words") == []


def test_no_page_of_words_shuts_anybody_out(context_of: Callable[..., BrowserContext]) -> None:
    save("fr", "frame.closing", "À bientôt,\n{house}", by=StaffFactory(first_name="Ida"))
    for width, scheme in ((1280, "light"), (834, "dark")):
        context = context_of("manager", width=width, scheme=scheme)
        for address in ("", "fr/", "fr/around/", "fr/why-now/", "fr/text/frame.closing/"):
            page = context.new_page()
            page.goto(f"/letters/wording/{address}")
            assert faults(page, address) == []
            page.close()
