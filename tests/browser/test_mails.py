"""A letter's HTML as a mail program shows it: on a phone and a tablet, in light and dark, whatever it names."""

from dataclasses import replace
from datetime import date

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from service_center.letters.composing import letter as compose
from service_center.letters.composing.wording import wording_in
from service_center.letters.rules.words import Step
from service_center.letters.wording.examples import EXAMPLES, Example, pieces_of_example

pytestmark = pytest.mark.browser
# As long as the book takes them, without a place to break at.
LONGEST = {"name": "S" + "k" * 98 + "erry", "serial": "FH21-" + "0" * 59}


def mail(language: str, owner: str) -> str:
    day = date(2026, 10, 2)
    examples: list[Example] = list(EXAMPLES.values())
    pieces = [one for example in examples for one in pieces_of_example(example, f"several.{Step.INVITATION}", day)]
    pieces.append(replace(pieces[0], **LONGEST))
    content = compose.LetterContent(7, language, owner, day, tuple(pieces), wording_in(language))
    return compose.write(content, compose.links_for("t" * 43, "s" * 43)).html


@pytest.mark.parametrize("language", ["en", "de", "ja"])
@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (390, "dark"), (834, "light"), (834, "dark")])
def test_a_letter_can_be_read_without_moving_it_sideways(
    chromium: Browser, language: str, width: int, scheme: str
) -> None:
    context = chromium.new_context(
        viewport={"width": width, "height": 900}, color_scheme="dark" if scheme == "dark" else "light"
    )
    try:
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.set_content(mail(language, "نور الحسيني"))
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        serious = [
            f"{one['id']}: {[node['target'] for node in one['nodes']][:3]}"
            for one in Axe().run(page).response["violations"]
            if one["impact"] in {"serious", "critical"}
        ]
        assert serious == []
        assert asked == []
        # A mail is not dark paper with dark letters: what the media query says is there.
        assert (page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(22, 29, 26)") == (
            scheme == "dark"
        )
    finally:
        context.close()
