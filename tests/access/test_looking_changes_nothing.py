"""A look (GET, HEAD) at any page, twice, leaves the book as it was."""

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.apps import apps
from django.contrib.sessions.models import Session
from django.test import Client

from service_center.access.rules import Role, may_open
from tests.access.walk import NOW, World, address, view_names

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def everything() -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table but the sessions', which note that somebody is still there."""
    tables = [model for model in apps.get_models(include_auto_created=True) if model is not Session]
    return {model._meta.label: list(model._base_manager.order_by("pk").values_list()) for model in tables}


@pytest.mark.parametrize("name", view_names())
def test_a_look_changes_nothing(name: str, signed_in: Callable[..., Client]) -> None:
    world = World()
    client = signed_in(Role.MANAGER) if may_open(name, Role.MANAGER) and not name.startswith("owner_") else Client()
    before = everything()
    for look in (client.get, client.head, client.get):
        look(address(name, world))
    assert everything() == before
