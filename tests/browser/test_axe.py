"""axe-core finds nothing serious on any page, in light and in dark, on a desk's screen and on a counter's tablet."""

from collections.abc import Callable, Iterator

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from service_center.access.rules import DOORS, Door, Role, may_open
from tests.access.walk import NOW, World, address

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# A letter's own HTML is a mail's, shown in a frame.
NOT_PAGES = {"letters:letter_html", "letters:wording_preview", "demo:mail_html"}


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(NOW, tick=True):
        yield


@pytest.fixture
def world(site: str) -> World:
    return World()


def faults(page: Page, where: str) -> list[str]:
    """What axe calls serious or critical, and anything wider than the screen."""
    found = [
        f"{where}: {one['id']}: {one['help']}: {[node['target'] for node in one['nodes']][:3]}"
        for one in Axe().run(page).response["violations"]
        if one["impact"] in {"serious", "critical"}
    ]
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return [*found, *([f"{where}: {wide} px wider than the screen"] if wide > 0 else [])]


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (834, "dark")])
def test_every_page_can_be_used_by_everybody(
    context_of: Callable[..., BrowserContext], world: World, width: int, scheme: str
) -> None:
    signed_in = context_of(Role.MANAGER, width=width, scheme=scheme)
    outside = context_of(width=width, scheme=scheme)
    found, opened = [], 0
    for name, row in DOORS.items():
        if name in NOT_PAGES or name.startswith("demo:"):
            continue
        nobody = isinstance(row, Door)
        assert nobody or may_open(name, Role.MANAGER)
        page = (outside if nobody else signed_in).new_page()
        answer = page.request.get(address(name, world))
        assert answer.status < 500, name
        # Files, and addresses of deeds alone, are no pages.
        if answer.ok and "text/html" in answer.headers["content-type"]:
            opened += 1
            page.goto(address(name, world))
            found += faults(page, name)
        page.close()
    page = signed_in.new_page()
    for more in ("/search/?q=FH", "/search/?q=nothing-fits", "/not/there/"):
        page.goto(more)
        found += faults(page, more)
    assert found == []
    assert opened > 15


def test_a_page_with_faults_would_be_seen(context_of: Callable[..., BrowserContext]) -> None:
    page = context_of().new_page()
    page.set_content('<html><body><p style="color:#bbb;width:200vw">faint</p><input></body></html>')
    assert {"color-contrast", "label", "html-has-lang"} <= {one.split(": ")[1] for one in faults(page, "made up")}
    assert "px wider" in str(faults(page, "made up"))


def test_a_form_with_faults_names_them_where_they_are(context_of: Callable[..., BrowserContext], world: World) -> None:
    page = context_of(Role.DESK).new_page()
    page.goto(address("pieces:record_entry", world))
    page.get_by_role("button", name="Record it").click()
    page.get_by_text("Nothing was saved yet.").wait_for()
    assert faults(page, "record_entry") == []


def test_a_piece_is_found_and_opened_by_keyboard_alone(context_of: Callable[..., BrowserContext], world: World) -> None:
    page = context_of(Role.BOUTIQUE, world.boutique.code, width=834).new_page()
    page.goto("/")
    expect(page.locator("#seek")).to_be_focused()
    page.keyboard.type(world.piece.serial)
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/pieces/{world.piece.pk}/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


@pytest.mark.parametrize("path", ["/", "/search/?q=FH"])
def test_everything_that_is_pressed_is_a_finger_wide(
    context_of: Callable[..., BrowserContext], world: World, path: str
) -> None:
    page = context_of(Role.DESK, width=834).new_page()
    page.goto(path)
    small = page.evaluate(
        """[...document.querySelectorAll("button, .button, select, input:not([type=hidden], [type=checkbox], [type=radio]), nav a")]
        .filter(one => one.offsetParent !== null && one.getBoundingClientRect().height < 44).map(one => one.outerHTML)"""
    )
    assert small == []


@pytest.mark.parametrize("width", [1280, 834])
def test_a_field_with_an_error_stands_beside_its_neighbours(
    context_of: Callable[..., BrowserContext], width: int
) -> None:
    page = context_of(Role.DESK, width=width).new_page()
    page.goto("/letters/answers/?first=2026-05-01&last=2026-02-31")
    page.get_by_text("Enter a valid date.").wait_for()
    tops = page.locator(".filters input, .filters .button").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().top)"
    )
    assert len(tops) == 3
    assert max(tops) - min(tops) < 2
