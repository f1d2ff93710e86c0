"""The places of a working day: few enough for one line of a tablet, and the page you are on stands marked."""

from collections.abc import Callable

import pytest
from django.test import Client
from pytest_django.asserts import assertContains, assertNotContains

from service_center.access.context import BEHIND, PLACES, SETTINGS
from service_center.access.rules import DOORS, may_open

pytestmark = pytest.mark.django_db


def test_every_place_and_every_setting_is_a_page_of_the_table() -> None:
    names = {name for name, _label in PLACES} | {name for name, _label, _about in SETTINGS} | set(BEHIND.values())
    assert names - set(DOORS) == set()


def test_whoever_opens_the_house_opens_everything_it_leads_to() -> None:
    for role in DOORS["house"]:
        assert [name for name, _label, _about in SETTINGS if not may_open(name, role)] == []


def test_the_house_leads_to_what_is_set_once(signed_in: Callable[..., Client]) -> None:
    page = signed_in("desk").get("/house/")
    for address in ("/rules/", "/guarantee/", "/counter/usual-terms/", "/counter/opening-hours/", "/bench/", "/book/"):
        assertContains(page, f'href="{address}"', count=1)


def test_a_counter_has_no_house_to_set(signed_in: Callable[..., Client]) -> None:
    assertNotContains(signed_in("boutique", "HAR").get("/"), "/house/")


@pytest.mark.parametrize(
    ("address", "place"),
    [
        ("/letters/all/", '<a href="/letters/" aria-current="true">Letters</a>'),
        ("/rules/add/", '<a href="/house/" aria-current="true">House</a>'),
        ("/house/", '<a href="/house/" aria-current="page">House</a>'),
    ],
)
def test_the_place_behind_which_a_page_lies_stands_marked(
    address: str, place: str, signed_in: Callable[..., Client]
) -> None:
    assertContains(signed_in("manager").get(address), place, html=True)
