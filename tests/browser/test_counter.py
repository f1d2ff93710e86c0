"""The counter as hands use it: by keyboard, by taps on a tablet, and without JavaScript."""

from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.sessions.models import Session
from django.core.signals import request_started
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Request, Route, expect

from service_center.access.rules import Role
from service_center.book.models import Piece
from service_center.intake.models import DraftStep, DropOff
from tests.browser.conftest import PASSWORD
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


def kept_with(words: str) -> Callable[[Request], bool]:
    """A step that keeps itself, with these words."""
    return lambda request: "x-keep" in request.headers and words.encode() in (request.post_data_buffer or b"")


def before_its_first_picture(counter: Page, address: str) -> Route:
    """The page while it waits for a style: all of it is there, and nobody is in its field yet."""
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    counter.route("**/css/tokens*.css", hold, times=1)
    counter.goto(address, wait_until="commit")
    counter.get_by_role("contentinfo").wait_for(state="attached")
    assert counter.evaluate("document.activeElement.tagName") == "BODY"
    return held[0]


def test_a_scan_that_begins_before_the_page_is_there_keeps_its_first_letters(counter: Page) -> None:
    style = before_its_first_picture(counter, "/counter/")
    counter.keyboard.type("FH21-")
    style.continue_()
    field = counter.locator("#counter-search")
    expect(field).to_be_focused()
    counter.keyboard.type("000123")
    expect(field).to_have_value("FH21-000123")


def test_what_is_typed_slowly_before_the_page_is_there_is_sought_with_its_enter(counter: Page) -> None:
    style = before_its_first_picture(counter, "/counter/?q=FH10")
    counter.keyboard.type("FH21-000123\n", delay=150)
    style.continue_()
    counter.wait_for_url("**/counter/?q=FH21-000123")


def test_letters_typed_beside_the_field_are_not_put_into_it_later(counter: Page) -> None:
    field = counter.locator("#counter-search")
    expect(field).to_be_focused()
    counter.evaluate("document.activeElement.blur()")
    counter.keyboard.type("FH")
    counter.evaluate("document.getElementById('counter-search').focus()")
    counter.keyboard.type("21-000123")
    expect(field).to_have_value("21-000123")


def test_the_next_scan_takes_the_place_of_what_was_sought_before(counter: Page) -> None:
    counter.goto("/counter/?q=FH10")
    expect(counter.locator("#counter-search")).to_be_focused()
    counter.keyboard.type("FH21-000123\n")
    counter.wait_for_url("**/counter/?q=FH21-000123")


def test_a_scan_at_once_finds_its_piece(counter: Page) -> None:
    counter.goto("/counter/?q=FH10", wait_until="commit")
    counter.get_by_role("contentinfo").wait_for(state="attached")
    counter.keyboard.type("FH21-000123\n")
    counter.wait_for_url("**/counter/?q=FH21-000123")


def test_from_find_to_receipt_in_at_most_twelve_taps(counter: Page, piece: Piece, tmp_path: Path) -> None:
    (tmp_path / "dial.jpg").write_bytes(jpeg((1600, 1200)))
    taps = 0

    def tap(target: Locator) -> None:
        nonlocal taps
        target.click()
        taps += 1

    expect(counter.locator("#counter-search")).to_be_focused()
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
    for step in ("Readings", "When it is ready", "Signature"):  # the workshop reads; the usual day; after opening
        tap(counter.get_by_role("button", name="Next").last)
        # A button waits for what is being kept; a hand that sees the same page does not tap again at once.
        counter.get_by_role("heading", name=step, exact=True).wait_for()
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
    with started.expect_request_finished(kept_with("It stops at night.")):
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


def test_next_waits_for_the_keep_that_is_under_way(started: Page) -> None:
    held: list[Route] = []

    def hold(route: Route) -> None:
        if kept_with("It stops.")(route.request):
            held.append(route)
        else:
            route.fallback()

    started.route("**/story/", hold)
    started.get_by_label("Overhaul").check()
    with started.expect_request(kept_with("It stops.")):
        started.get_by_label("What the owner says").fill("It stops.")
    started.get_by_label("What the owner says").fill("It stops at night.")
    started.get_by_role("button", name="Next").last.click()
    started.wait_for_timeout(500)  # were it not to wait, the next step would be on its way
    expect(started.get_by_role("heading", name="What it is about")).to_be_visible()
    held[0].continue_()
    started.get_by_role("heading", name="Photographs").wait_for()
    assert DraftStep.objects.get().said["owner_says"] == ["It stops at night."]


def test_after_next_nothing_older_follows(started: Page) -> None:
    asked: list[str] = []

    def note(environ: dict[str, str], **_: object) -> None:
        asked.append(f"{environ['REQUEST_METHOD']} {environ['QUERY_STRING']}")

    started.get_by_label("Overhaul").check()
    request_started.connect(note)
    try:
        started.get_by_role("button", name="Next").last.click()
        started.get_by_role("heading", name="Photographs").wait_for()
        started.wait_for_timeout(500)
    finally:
        request_started.disconnect(note)
    assert "POST " in asked
    assert "POST keep=1" not in asked


def test_what_is_typed_after_the_sign_out_stays_until_somebody_signed_in_again(started: Page) -> None:
    Session.objects.all().delete()
    started.get_by_label("Overhaul").check()
    started.get_by_label("What the owner says").fill("It stops at night.")
    started.get_by_role("button", name="Next").last.click()
    expect(started.get_by_text("Not kept yet")).to_be_visible()
    expect(started.get_by_label("What the owner says")).to_have_value("It stops at night.")
    beside = started.context.new_page()
    beside.goto("/sign-in/")
    beside.get_by_label("Username").fill("boutique-1")
    beside.get_by_label("Password").fill(PASSWORD)
    beside.get_by_role("main").get_by_role("button", name="Sign in").click()
    beside.get_by_role("heading", name="Today").wait_for()
    started.get_by_role("button", name="Next").last.click()
    started.get_by_role("heading", name="Photographs").wait_for()
    assert DraftStep.objects.get().said["owner_says"] == ["It stops at night."]


def test_a_photograph_taken_without_a_line_follows_when_it_is_back(started: Page) -> None:
    at(started, "condition")
    started.wait_for_load_state()
    started.context.set_offline(True)
    started.get_by_label("From files").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": jpeg()})
    expect(started.get_by_text("Not kept yet")).to_be_visible()
    started.context.set_offline(False)
    expect(started.get_by_role("img", name="Photograph 1")).to_be_visible(timeout=15_000)
    expect(started.get_by_role("img", name="Photograph 2")).to_have_count(0)


def test_pasted_readings_are_kept_as_typed_ones_are(started: Page) -> None:
    at(started, "readings")
    started.locator("[name='full-CH-rate']").focus()
    started.evaluate(PASTE, BLOCK)
    expect(started.get_by_text("Kept.")).to_be_visible()
    said = DraftStep.objects.get(step="readings").said
    assert (said["full-CH-rate"], said["full-12H-beat_error"]) == (["+4.0"], ["0.5"])


def test_a_block_with_nothing_in_its_first_row_keeps_its_positions(started: Page) -> None:
    at(started, "readings")
    started.locator("[name='full-CH-rate']").focus()
    started.evaluate(PASTE, "\t\t\r\n+5.0\t282\t0.2\r\n\r\n\t255\t\r\n")
    read = [
        [cell(started, f"full-{position}-{name}") for name in ("rate", "amplitude", "beat_error")]
        for position in ("CH", "CB", "3H", "6H")
    ]
    assert read == [["", "", ""], ["+5.0", "282", "0.2"], ["", "", ""], ["", "255", ""]]


@pytest.fixture
def signing(started: Page) -> Page:
    """The last step, with nothing left but the signature."""
    started.get_by_label("Overhaul").check()
    started.get_by_role("button", name="Next").last.click()
    started.get_by_label("As worn, no marks to note").check()
    for step in ("Readings", "When it is ready", "Signature"):
        started.get_by_role("button", name="Next").last.click()
        started.get_by_role("heading", name=step, exact=True).wait_for()
    started.locator("canvas").scroll_into_view_if_needed()
    return started


def strokes(page: Page) -> list[list[list[int]]]:
    found: list[list[list[int]]] = page.evaluate("JSON.parse(document.querySelector('[name=strokes]').value)")
    return found


def test_a_palm_beside_the_finger_is_no_part_of_the_signature(signing: Page) -> None:
    box = signing.locator("canvas").bounding_box()
    assert box
    hand = signing.context.new_cdp_session(signing)
    palm = {"x": box["x"] + box["width"] - 30, "y": box["y"] + box["height"] - 20, "id": 1}

    def touch(kind: str, *points: dict[str, float]) -> None:
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    def finger(step: int) -> dict[str, float]:
        return {"x": box["x"] + 40 + step * 10, "y": box["y"] + 40, "id": 0}

    touch("touchStart", finger(0))
    touch("touchStart", finger(0), palm)
    for step in range(20):
        touch("touchMove", finger(step), {**palm, "y": palm["y"] - step % 2})
    touch("touchEnd", palm)
    touch("touchMove", finger(25))
    touch("touchEnd")
    [written] = strokes(signing)
    assert max(y for _x, y in written) - min(y for _x, y in written) <= 1
    assert len(written) > 10


def test_a_pen_writes_though_the_palm_came_first(signing: Page) -> None:
    box = signing.locator("canvas").bounding_box()
    assert box
    hand = signing.context.new_cdp_session(signing)
    palm = {"x": box["x"] + box["width"] - 30, "y": box["y"] + box["height"] - 20, "id": 1}
    hand.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [palm]})

    def pen(kind: str, step: int) -> None:
        place = {"x": box["x"] + 40 + step * 10, "y": box["y"] + 40}
        down = {"button": "left", "buttons": 1, "clickCount": 1, "pointerType": "pen"}
        hand.send("Input.dispatchMouseEvent", {"type": kind, **place, **down})

    pen("mousePressed", 0)
    for step in range(20):
        pen("mouseMoved", step)
    pen("mouseReleased", 20)
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    [written] = strokes(signing)
    assert max(y for _x, y in written) - min(y for _x, y in written) <= 1
    assert len(written) > 10


def test_a_signature_is_still_there_when_the_name_was_missing(signing: Page) -> None:
    sign(signing)
    written = strokes(signing)
    signing.get_by_label("Name of who signs").fill("")
    signing.get_by_role("button", name="Take in").last.click()
    signing.get_by_role("alert").wait_for()
    expect(signing.get_by_text("The owner signs here.")).to_be_hidden()
    assert strokes(signing) == written
    inked = "canvas => canvas.getContext('2d').getImageData(0, 0, 1000, 300).data.some(one => one)"
    assert signing.locator("canvas").evaluate(inked)
    signing.get_by_label("Name of who signs").fill("Ada Winter")
    signing.get_by_role("button", name="Take in").last.click()
    signing.get_by_role("heading", name="Taken in: R-").wait_for()
    assert bytes(DropOff.objects.get().signature.drawn)


def test_a_signature_that_is_wiped_is_none(signing: Page) -> None:
    sign(signing)
    signing.get_by_role("button", name="Wipe and sign anew").click()
    signing.get_by_role("button", name="Take in").last.click()
    expect(signing.get_by_role("alert").get_by_text("Please let the owner sign on the glass")).to_be_in_viewport()
    expect(signing.locator("#glass_error")).to_contain_text("Please let the owner sign on the glass")
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
    page.get_by_role("heading", name="Readings", exact=True).wait_for()
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
    expect(wrong).to_have_attribute("aria-invalid", "true")
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
