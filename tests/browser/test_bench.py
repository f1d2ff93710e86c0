"""The bench in Chromium: a block is pasted, arrows and Enter move, a code is scanned, a line goes down."""

from collections.abc import Callable
from urllib.parse import parse_qs

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, Route, expect

from service_center.access.rules import Role
from service_center.book.actions import move_piece
from service_center.book.rules import EntryKind, Place
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import readings_of
from service_center.workshop.orders.actions import open_order
from tests.factories import PieceFactory, StaffFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

BLOCK = "+4,0\t285\t0,2\n5\t140\t0.2\n−1\t258\t0.4\n1.5\t255\t0.3\n-3\t252\t0.4\n0.5\t256\t0.5"
PASTE = """(text) => {
  const data = new DataTransfer();
  data.setData("text", text);
  document.activeElement.dispatchEvent(new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true}));
}"""

# What a scanner does: each key in the same moment as the last, however busy the machine is.
SCAN = """(code) => {
  for (const key of [...code, "Enter"]) {
    document.body.dispatchEvent(new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true}));
  }
}"""


def test_six_positions_are_pasted_looked_at_again_and_kept(
    context_of: Callable[..., BrowserContext], site: str
) -> None:
    piece = PieceFactory()
    page = context_of(Role.WATCHMAKER, width=834).new_page()
    page.goto(f"{site}/pieces/{piece.pk}/measurements/new/")
    page.locator("[data-readings] input").first.focus()
    page.evaluate(PASTE, BLOCK)
    where = "document.activeElement.name"
    for key, name in (
        ("Enter", "full-CB-rate"),
        ("ArrowRight", "full-CB-amplitude"),
        ("ArrowDown", "full-3H-amplitude"),
        ("ArrowLeft", "full-3H-rate"),
        ("ArrowUp", "full-CB-rate"),
        ("Tab", "full-CB-amplitude"),
    ):
        page.keyboard.press(key)
        assert page.evaluate(where) == name
    page.get_by_role("button", name="Keep the sheet").click()
    expect(page.locator("td.questioned")).to_have_text("140° is below 150°")
    assert page.locator("[name=full-12H-rate]").input_value() == "0.5"
    page.get_by_label("I looked again: the readings are right").check()
    page.get_by_role("button", name="Keep the sheet").click()
    page.get_by_role("heading", name="Timing sheet of").wait_for()
    expect(page.locator("svg.figure")).to_have_count(2)
    kept = {one.position: one for one in readings_of(TimingSheet.objects.get())}
    assert (str(kept["CH"].rate), str(kept["3H"].rate), str(kept["CB"].amplitude)) == ("4.0", "-1.0", "140")


def test_a_code_is_scanned_from_any_page_and_a_form_without_a_line_keeps_what_was_typed(
    context_of: Callable[..., BrowserContext], site: str
) -> None:
    now, staff = timezone.now(), StaffFactory(role="watchmaker")
    piece = PieceFactory()
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=now, by=staff)
    open_order(
        piece, number="R-000042", boutique=piece.boutique, asked=[EntryKind.OVERHAUL], opened_on=timezone.localdate(),
        at=now, by=staff,
    )  # fmt: skip
    context = context_of(Role.WATCHMAKER, width=834)
    page = context.new_page()
    page.goto(f"{site}/at-the-bench/")
    page.evaluate(SCAN, "R-000042")
    page.wait_for_url(f"{site}/orders/R-000042/")
    page.goto(f"{site}/at-the-bench/R-000042/readings/")
    rate = page.get_by_label("Rate (s/d), CH, full wind")
    rate.fill("4.5")
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Plus or minus").first).to_be_focused()
    page.keyboard.press("Space")
    expect(rate).to_be_focused()
    expect(rate).to_have_value("-4.5")
    context.set_offline(True)
    page.get_by_role("button", name="Next position").click()
    expect(page.get_by_role("alert")).to_contain_text("The line is down")
    assert rate.input_value() == "-4.5"
    context.set_offline(False)
    page.get_by_role("button", name="Next position").click()
    expect(page.get_by_role("heading", name="Dial down")).to_be_visible()
    assert page.locator("[name=full-CH-rate]").get_attribute("value") == "-4.5"


def test_a_second_scan_before_the_next_page_takes_the_place_of_the_first(
    context_of: Callable[..., BrowserContext], site: str
) -> None:
    page = context_of(Role.WATCHMAKER, width=834).new_page()
    page.goto(f"{site}/reception/")
    expect(page.locator("#codes")).to_be_focused()

    def hold(route: Route) -> None:
        """A slow answer: none yet."""

    page.route("**/reception/", hold)
    posted = []
    for code in ("R-000001", "R-000002"):
        with page.expect_request("**/reception/") as sent:
            page.keyboard.type(f"{code}\n")
        posted += parse_qs(sent.value.post_data or "")["codes"]
    assert posted == ["R-000001", "R-000002"]
