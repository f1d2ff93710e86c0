"""One table says who may open what; every address of the site obeys it."""

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client

from service_center.access.rules import DOORS, Role, may_open
from tests.access.walk import NOW, OF_A_BOUTIQUE, World, address, view_names
from tests.factories import BoutiqueFactory

pytestmark = pytest.mark.django_db

ACTORS = [*Role, None]


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def world() -> World:
    return World()


def test_every_address_has_a_row_in_the_table() -> None:
    assert [name for name in view_names() if name not in DOORS] == []


def test_every_row_of_the_table_is_an_address() -> None:
    assert sorted(set(DOORS) - set(view_names())) == []


def test_a_page_without_a_row_opens_for_nobody() -> None:
    assert not any(may_open("pieces:unheard_of", actor) for actor in ACTORS)


def client_of(actor: Role | None, world: World, signed_in: Callable[..., Client]) -> Client:
    return signed_in(actor, world.boutique.code if actor is Role.BOUTIQUE else "") if actor else Client()


def met(response: HttpResponse, name: str) -> str:
    """How a door answers: "opens", "sign in", "refused", or what nobody expects."""
    if response.status_code == 302 and response["Location"].startswith("/sign-in/?next="):
        return "sign in"
    if response.status_code == 403:
        return "refused"
    # Outside the demo there is no mailbox; a page of deeds alone shows nothing to a look.
    expected = {404} if name.startswith("demo:") else {200, 302, 405}
    return "opens" if response.status_code in expected else f"{response.status_code}"


def expected(name: str, actor: Role | None) -> str:
    if may_open(name, actor):
        return "opens"
    return "refused" if actor else "sign in"


@pytest.mark.parametrize("actor", ACTORS, ids=lambda actor: actor or "nobody")
def test_a_page_opens_for_those_the_table_names_and_for_nobody_else(
    actor: Role | None, world: World, signed_in: Callable[..., Client]
) -> None:
    client = client_of(actor, world, signed_in)
    found = {name: met(client.get(address(name, world)), name) for name in view_names()}
    assert found == {name: expected(name, actor) for name in view_names()}


@pytest.mark.parametrize("actor", ACTORS, ids=lambda actor: actor or "nobody")
def test_a_post_meets_the_same_door(actor: Role | None, world: World, signed_in: Callable[..., Client]) -> None:
    client = client_of(actor, world, signed_in)
    closed = [name for name in view_names() if not may_open(name, actor)]
    found = {name: met(client.post(address(name, world), {}), name) for name in closed}
    assert found == {name: expected(name, actor) for name in closed}


def test_the_manager_opens_every_page_and_the_desk_all_but_the_one_that_erases() -> None:
    opens_all = {actor for actor in ACTORS if all(may_open(name, actor) for name in DOORS)}
    assert opens_all == {Role.MANAGER}
    assert [name for name in DOORS if not may_open(name, Role.DESK)] == ["owners:erase"]


@pytest.mark.parametrize("name", OF_A_BOUTIQUE)
def test_another_boutique_s_things_are_not_there(name: str, world: World, signed_in: Callable[..., Client]) -> None:
    stranger = signed_in("boutique", BoutiqueFactory().code)
    assert stranger.get(address(name, world)).status_code == 404
    assert stranger.post(address(name, world), {}).status_code in {404, 405}


def test_a_page_with_somebody_s_data_is_kept_by_no_browser(world: World, signed_in: Callable[..., Client]) -> None:
    assert "no-store" in signed_in("desk").get(address("pieces:piece", world))["Cache-Control"]
