"""The counter as hands use it: by keyboard, by taps on a tablet, and without JavaScript."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from service_center.access.rules import Role
from service_center.book.models import Piece
from service_center.intake.models import DropOff
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

BLOCK = "+4.0\t285\t0.2\n+5.0\t282\t0.2\n-1.0\t258\t0.4\n+1.5\t255\t0.3\n-3.0\t252\t0.4\n+0.5\t256\t0.5"
PASTE = """text => {
    const clipboard = new DataTransfer();
    clipboard.setData("text", text);
    const event = new ClipboardEvent("paste", {clipboardData: clipboard, bubbles: true, cancelable: true});
    document.activeElement.dispatchEvent(event);
}"""


@pytest.fixture
def piece(site: str) -> Piece:
    boutique = BoutiqueFactory(code="HARROW")
    made: Piece = PieceFactory(serial="FH21-000123", boutique=boutique, owner=OwnerFactory(name="Ada Winter"))
    return made


@pytest.fixture
def counter(context_of: Callable[..., BrowserContext], piece: Piece) -> Page:
    page = context_of(Role.BOUTIQUE, "HARROW", width=834).new_page()
    page.goto("/counter/")
    return page


def cell(page: Page, name: str) -> str:
    return page.locator(f"[name='{name}']").input_value()


def test_from_find_to_receipt_in_at_most_twelve_taps(counter: Page, piece: Piece) -> None:
    taps = 0

    def tap(name: str, role: str = "button") -> None:
        nonlocal taps
        counter.get_by_role("main").get_by_role(role, name=name).first.click()
        taps += 1

    counter.keyboard.type("FH21-000123\n")  # the scanner types, and ends with Enter
    tap("Take in", "link")
    tap("Overhaul", "checkbox")
    counter.get_by_label("What the owner says").click()
    taps += 1
    counter.keyboard.type("It stops at night.")
    tap("Take in")
    with counter.expect_popup() as opened:
        tap("Receipt (PDF)", "link")
    assert opened.value.url.endswith("/receipt/")
    assert DropOff.objects.get().owner_says == "It stops at night."
    assert taps <= 12


def test_a_block_of_readings_is_pasted_into_the_grid(counter: Page, piece: Piece) -> None:
    counter.goto(f"/counter/take-in/{piece.pk}/")
    counter.locator("[name='full-CH-rate']").focus()
    counter.evaluate(PASTE, BLOCK)
    assert cell(counter, "full-CH-rate") == "+4.0"
    assert cell(counter, "full-12H-beat_error") == "0.5"


def test_a_block_that_is_larger_than_the_grid_fills_what_there_is(counter: Page, piece: Piece) -> None:
    counter.goto(f"/counter/take-in/{piece.pk}/")
    counter.locator("[name='full-9H-amplitude']").focus()
    counter.evaluate(PASTE, BLOCK)
    assert cell(counter, "full-9H-amplitude") == "+4.0"
    assert cell(counter, "full-12H-beat_error") == "282"
    assert cell(counter, "full-CH-rate") == ""


def test_enter_and_the_arrows_move_through_the_grid_and_take_nothing_in(counter: Page, piece: Piece) -> None:
    counter.goto(f"/counter/take-in/{piece.pk}/")
    counter.locator("[name='full-CH-rate']").focus()
    for key in ("4", "Enter", "5", "ArrowUp"):
        counter.keyboard.press(key)
    assert counter.evaluate("document.activeElement.name") == "full-CH-rate"
    counter.locator("[name='full-12H-rate']").press("Enter")
    assert counter.evaluate("document.activeElement.name") == "full-CH-amplitude"
    assert not DropOff.objects.exists()


def test_a_wrong_cell_is_marked_and_its_error_leads_to_it(counter: Page, piece: Piece) -> None:
    counter.goto(f"/counter/take-in/{piece.pk}/")
    counter.get_by_label("Overhaul").check()
    counter.locator("[name='full-9H-amplitude']").fill("361")
    counter.get_by_role("button", name="Take in").click()
    wrong = counter.locator("[name='full-9H-amplitude']")
    assert wrong.get_attribute("aria-invalid") == "true"
    said = wrong.get_attribute("aria-describedby") or ""
    expect(counter.locator(f"[id='{said}']")).to_contain_text("an amplitude above 360° cannot be")
    counter.get_by_role("link", name="Amplitude (°), 9H, full wind").click()
    assert counter.evaluate("document.activeElement.name") == "full-9H-amplitude"
    serious = [
        one["id"] for one in Axe().run(counter).response["violations"] if one["impact"] in {"serious", "critical"}
    ]
    assert serious == []


def test_without_javascript_a_piece_is_taken_in_all_the_same(
    counter: Page, chromium: Browser, piece: Piece, site: str
) -> None:
    plain = chromium.new_context(
        base_url=site, java_script_enabled=False, storage_state=counter.context.storage_state()
    )
    page = plain.new_page()
    page.goto("/counter/?q=FH21-000123")
    page.get_by_role("main").get_by_role("link", name="Take in").click()
    page.get_by_label("Overhaul").check()
    page.locator("[name='full-CH-rate']").fill("-3,5")
    page.get_by_role("button", name="Take in").click()
    page.get_by_role("heading", name="Taken in: R-").wait_for()
    plain.close()
    assert DropOff.objects.get().sheet.readings.get().rate == -3.5
