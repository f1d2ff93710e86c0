"""A look (GET, HEAD) at any page, twice, leaves the book as it was."""

from collections.abc import Callable, Iterator
from uuid import uuid4

import pytest
import time_machine
from django.apps import apps
from django.contrib.sessions.models import Session
from django.test import Client

from service_center.access.rules import DOORS, Door, Role
from tests.access.walk import NOW, World, address, view_names

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def everything() -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table but the sessions', which note that somebody is still there."""
    tables = [
        model for model in apps.get_models(include_auto_created=True) if model is not Session and model._meta.managed
    ]
    return {model._meta.label: list(model._base_manager.order_by("pk").values_list()) for model in tables}


def test_a_look_at_any_page_changes_nothing(signed_in: Callable[..., Client]) -> None:
    world, manager, outside = World(), signed_in(Role.MANAGER), Client()
    before, changed = everything(), []
    for name in view_names():
        client = outside if isinstance(DOORS.get(name), Door) else manager
        for look in (client.get, client.head, client.get):
            look(address(name, world))
        after = everything()
        if after != before:
            changed.append(name)
            before = after
    assert changed == []


def test_a_deed_would_be_seen(signed_in: Callable[..., Client]) -> None:
    world, desk = World(), signed_in(Role.DESK)
    before = everything()
    sent = {"form_key": str(uuid4()), "kind": "strap", "done_on": "2026-06-05", "done_by": "own"}
    sent |= {"case_opened": "no", "tightness": "not_tested"}
    assert desk.post(address("pieces:record_entry", world), sent).status_code == 302
    assert everything() != before
