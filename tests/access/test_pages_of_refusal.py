"""What somebody reads who may not, or cannot, go on."""

from collections.abc import Callable

import pytest
from django.template.loader import get_template
from django.test import Client

pytestmark = pytest.mark.django_db


def test_another_role_s_page_says_so(signed_in: Callable[..., Client]) -> None:
    response = signed_in("watchmaker").get("/due/")
    assert response.status_code == 403
    assert "This page is for other hands" in response.content.decode()


@pytest.mark.parametrize("who", ["desk", ""])
def test_an_address_of_nothing_says_so(signed_in: Callable[..., Client], who: str) -> None:
    response = (signed_in(who) if who else Client()).get("/nothing/at/all/")
    assert response.status_code == 404
    assert "There is nothing here" in response.content.decode()


def test_a_fault_of_ours_shows_no_entrails() -> None:
    text = get_template("500.html").render({})
    assert "It is our fault, not yours" in text


@pytest.mark.parametrize("page", ["/", "/sign-in/", "/search/?q=fern", "/nothing/"])
def test_no_page_carries_style_or_script_of_its_own(signed_in: Callable[..., Client], page: str) -> None:
    response = signed_in("desk").get(page, follow=True)
    text = response.content.decode()
    assert not [word for word in ("<style", " style=", "<script>", " onclick=", "javascript:") if word in text]
    policy = response["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
