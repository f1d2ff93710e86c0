"""A sheet read at the bench in Chromium: a block is pasted, arrows and Enter move, the unusual is asked for in place."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext

from service_center.access.rules import Role
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import readings_of
from tests.factories import PieceFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

BLOCK = "+4,0\t285\t0,2\n5\t140\t0.2\n−1\t258\t0.4\n1.5\t255\t0.3\n-3\t252\t0.4\n0.5\t256\t0.5"
PASTE = """(text) => {
  const data = new DataTransfer();
  data.setData("text", text);
  document.activeElement.dispatchEvent(new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true}));
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
    assert page.locator("td.questioned").inner_text() == "140° is below 150°"
    assert page.locator("[name=full-12H-rate]").input_value() == "0.5"
    page.get_by_label("I looked again: the readings are right").check()
    page.get_by_role("button", name="Keep the sheet").click()
    page.get_by_role("heading", name="Timing sheet of").wait_for()
    assert page.locator("svg.figure").count() == 2
    kept = {one.position: one for one in readings_of(TimingSheet.objects.get())}
    assert (str(kept["CH"].rate), str(kept["3H"].rate), str(kept["CB"].amplitude)) == ("4.0", "-1.0", "140")
