"""The counter as hands use it: by keyboard, by taps on a tablet, and without JavaScript."""

from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from service_center.access.rules import Role
from service_center.book.models import Piece
from service_center.intake.models import DraftStep, DropOff
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory
from tests.pictures import jpeg

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


@pytest.fixture
def started(counter: Page, piece: Piece) -> Page:
    """The counter with the piece's drop-off begun."""
    counter.goto("/counter/?q=FH21-000123")
    main(counter).get_by_role("button", name="Take in").click()
    counter.get_by_role("heading", name="What it is about").wait_for()
    counter.wait_for_load_state()  # with its script: a line that drops before the page is there keeps nothing
    return counter


def main(page: Page) -> Locator:
    return page.get_by_role("main")


def at(page: Page, step: str) -> None:
    """Go to a step by its name."""
    page.goto(page.url.rsplit("/", 2)[0] + f"/{step}/")


def sign(page: Page) -> None:
    """A name in one touch, as a finger writes it."""
    glass = page.locator("canvas")
    glass.scroll_into_view_if_needed()
    box = glass.bounding_box()
    assert box
    page.mouse.move(box["x"] + 40, box["y"] + 90)
    page.mouse.down()
    for step in range(40):
        page.mouse.move(box["x"] + 40 + step * 8, box["y"] + (60 if step % 6 < 3 else 120))
    page.mouse.up()


def test_from_find_to_receipt_in_at_most_twelve_taps(counter: Page, piece: Piece, tmp_path: Path) -> None:
    (tmp_path / "dial.jpg").write_bytes(jpeg((1600, 1200)))
    taps = 0

    def tap(target: Locator) -> None:
        nonlocal taps
        target.click()
        taps += 1

    counter.keyboard.type("FH21-000123\n")  # the scanner types, and ends with Enter
    tap(main(counter).get_by_role("button", name="Take in"))
    tap(counter.get_by_label("Overhaul"))
    tap(counter.get_by_label("What the owner says"))
    counter.keyboard.type("It stops at night.")  # dictated
    tap(counter.get_by_role("button", name="Next").last)
    tap(counter.get_by_label("As worn, no marks to note"))
    with counter.expect_file_chooser() as camera:
        tap(counter.get_by_label("Take a photograph"))
    camera.value.set_files(tmp_path / "dial.jpg")
    counter.get_by_role("img", name="Photograph 1").wait_for()
    tap(counter.get_by_role("button", name="Next").last)
    tap(counter.get_by_role("button", name="Next").last)  # readings: the workshop takes them
    tap(counter.get_by_role("button", name="Next").last)  # the usual day, estimated after opening
    sign(counter)
    taps += 1
    tap(counter.get_by_role("button", name="Take in").last)
    with counter.expect_popup() as opened:
        tap(counter.get_by_role("link", name="Receipt (PDF)"))
    assert opened.value.url.endswith("/receipt/")
    drop_off = DropOff.objects.get()
    assert drop_off.owner_says == "It stops at night."
    assert drop_off.draft.photographs.count() == 1
    assert bytes(drop_off.signature.drawn)
    assert taps <= 12


def test_a_closed_tab_loses_nothing_that_was_typed(started: Page, piece: Piece) -> None:
    started.get_by_label("Overhaul").check()
    started.get_by_label("What the owner says").fill("It stops at night.")
    expect(started.get_by_text("Kept.")).to_be_visible()
    context = started.context
    started.close()
    again = context.new_page()
    again.goto("/counter/")
    again.get_by_role("link", name="Go on FH21-000123").click()
    again.goto(again.url.replace("/condition/", "/story/"))
    expect(again.get_by_label("What the owner says")).to_have_value("It stops at night.")
    expect(again.get_by_label("Overhaul")).to_be_checked()


def test_without_a_connection_the_page_stays_and_what_was_typed_follows(started: Page) -> None:
    started.context.set_offline(True)  # the library's own word
    started.get_by_label("What the owner says").fill("It stops at night.")
    expect(started.get_by_text("Not kept yet")).to_be_visible()
    started.get_by_role("button", name="Next").last.click()
    expect(started.get_by_label("What the owner says")).to_have_value("It stops at night.")
    started.context.set_offline(False)
    expect(started.get_by_text("Kept.")).to_be_visible(timeout=8000)
    assert DraftStep.objects.get().said["owner_says"] == ["It stops at night."]


def test_a_signature_that_is_wiped_is_none(started: Page) -> None:
    started.get_by_label("Overhaul").check()
    started.get_by_role("button", name="Next").last.click()
    started.get_by_label("As worn, no marks to note").check()
    for _ in range(3):
        started.get_by_role("button", name="Next").last.click()
    sign(started)
    started.get_by_role("button", name="Wipe and sign anew").click()
    started.get_by_role("button", name="Take in").last.click()
    expect(started.get_by_role("alert").get_by_text("Please let the owner sign on the glass")).to_be_in_viewport()
    expect(started.locator("#glass_error")).to_contain_text("Please let the owner sign on the glass")
    assert not DropOff.objects.exists()


@pytest.mark.parametrize("step", ["story", "condition", "readings", "promise", "sign"])
@pytest.mark.parametrize(("width", "scheme"), [(834, "light"), (1280, "dark")])
def test_every_step_can_be_used_by_everybody_and_by_a_thumb(
    context_of: Callable[..., BrowserContext], piece: Piece, step: str, width: int, scheme: str
) -> None:
    page = context_of(Role.BOUTIQUE, "HARROW", width=width, scheme=scheme).new_page()
    page.goto("/counter/?q=FH21-000123")
    main(page).get_by_role("button", name="Take in").click()
    page.get_by_label("Overhaul").check()
    page.get_by_role("button", name="Next").last.click()
    page.get_by_label("As worn, no marks to note").check()
    page.get_by_role("button", name="Next").last.click()
    at(page, step)
    found = [one["id"] for one in Axe().run(page).response["violations"] if one["impact"] in {"serious", "critical"}]
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    small = page.evaluate(
        """[...document.querySelectorAll("main button:not(.visually-hidden), main .button, main select, main summary, .choices label, .look__grades label, main input:not([type=hidden], [type=checkbox], [type=radio])")]
        .filter(one => one.offsetParent !== null && one.getBoundingClientRect().height < 43.5).map(one => one.outerHTML.slice(0, 120))"""
    )
    assert (found, wide, small) == ([], 0, [])


def test_a_block_of_readings_is_pasted_into_the_grid(started: Page) -> None:
    counter = started
    at(counter, "readings")
    counter.locator("[name='full-CH-rate']").focus()
    counter.evaluate(PASTE, BLOCK)
    assert cell(counter, "full-CH-rate") == "+4.0"
    assert cell(counter, "full-12H-beat_error") == "0.5"


def test_a_block_that_is_larger_than_the_grid_fills_what_there_is(started: Page) -> None:
    counter = started
    at(counter, "readings")
    counter.locator("[name='full-9H-amplitude']").focus()
    counter.evaluate(PASTE, BLOCK)
    assert cell(counter, "full-9H-amplitude") == "+4.0"
    assert cell(counter, "full-12H-beat_error") == "282"
    assert cell(counter, "full-CH-rate") == ""


def test_enter_and_the_arrows_move_through_the_grid_and_take_nothing_in(started: Page) -> None:
    counter = started
    at(counter, "readings")
    counter.locator("[name='full-CH-rate']").focus()
    for key in ("4", "Enter", "5", "ArrowUp"):
        counter.keyboard.press(key)
    assert counter.evaluate("document.activeElement.name") == "full-CH-rate"
    counter.locator("[name='full-12H-rate']").press("Enter")
    assert counter.evaluate("document.activeElement.name") == "full-CH-amplitude"
    assert not DropOff.objects.exists()


def test_a_wrong_cell_is_marked_and_its_error_leads_to_it(started: Page) -> None:
    counter = started
    at(counter, "readings")
    counter.locator("[name='full-9H-amplitude']").fill("361")
    counter.get_by_role("button", name="Next").last.click()
    wrong = counter.locator("[name='full-9H-amplitude']")
    assert wrong.get_attribute("aria-invalid") == "true"
    said = wrong.get_attribute("aria-describedby") or ""
    expect(counter.locator(f"[id='{said}']")).to_contain_text("an amplitude above 360° cannot be")
    counter.get_by_role("alert").get_by_role("link", name="Amplitude (°), 9H, full wind").click()
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
    main(page).get_by_role("button", name="Take in").click()
    page.get_by_label("Overhaul").check()
    page.get_by_role("button", name="Next").last.click()
    page.get_by_label("As worn, no marks to note").check()
    page.get_by_label("From files").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": jpeg()})
    page.get_by_role("button", name="Add them").click()
    page.get_by_role("img", name="Photograph 1").wait_for()
    page.get_by_role("button", name="Next").last.click()
    page.locator("[name='full-CH-rate']").fill("-3,5")
    page.get_by_role("button", name="Next").last.click()
    page.get_by_role("button", name="Next").last.click()
    page.get_by_label("The owner has read the text above").check()
    page.get_by_role("button", name="Take in").last.click()
    page.get_by_role("heading", name="Taken in: R-").wait_for()
    plain.close()
    drop_off = DropOff.objects.get()
    assert drop_off.sheet.readings.get().rate == -3.5
    assert drop_off.signature.name == "Ada Winter"
    assert drop_off.draft.photographs.count() == 1
