"""A tablet left on a counter signs its user out; nobody stays signed in past a day's work."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.contrib.sessions.models import Session
from django.test import Client

pytestmark = pytest.mark.django_db

MORNING = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)


def is_in(client: Client) -> bool:
    return client.get("/search/").status_code == 200


@pytest.mark.parametrize(
    ("role", "minutes", "still_in"), [("boutique", 29, True), ("boutique", 30, False), ("desk", 30, True)]
)
def test_half_an_hour_of_silence_ends_a_session_at_a_counter(
    signed_in: Callable[..., Client], *, role: str, minutes: int, still_in: bool
) -> None:
    with time_machine.travel(MORNING, tick=False) as clock:
        client = signed_in(role)
        assert is_in(client)
        clock.shift(timedelta(minutes=minutes))
        assert is_in(client) is still_in


def test_work_keeps_a_counter_open(signed_in: Callable[..., Client]) -> None:
    with time_machine.travel(MORNING, tick=False) as clock:
        counter = signed_in("boutique")
        for _ in range(6):
            assert is_in(counter)
            clock.shift(timedelta(minutes=20))


@pytest.mark.parametrize("role", ["boutique", "desk", "watchmaker", "manager"])
def test_after_twelve_hours_everybody_signs_in_again(signed_in: Callable[..., Client], role: str) -> None:
    with time_machine.travel(MORNING, tick=False) as clock:
        client = signed_in(role)
        for _ in range(12 * 3):
            assert is_in(client)
            clock.shift(timedelta(minutes=20))
        assert not is_in(client)


def test_whoever_is_signed_out_is_told_and_comes_back_to_where_they_were(signed_in: Callable[..., Client]) -> None:
    with time_machine.travel(MORNING, tick=False) as clock:
        client = signed_in("boutique")
        assert is_in(client)
        clock.shift(timedelta(hours=1))
        response = client.get("/search/?q=4711", follow=True)
    assert "You were signed out for safety." in response.content.decode()
    assert response.redirect_chain == [("/sign-in/?next=/search/%3Fq%3D4711", 302)]


def test_a_session_s_row_is_written_once_a_minute_at_most(signed_in: Callable[..., Client]) -> None:
    with time_machine.travel(MORNING, tick=False) as clock:
        client = signed_in("boutique")
        is_in(client)
        before = Session.objects.get().session_data
        clock.shift(timedelta(seconds=59))
        is_in(client)
        assert Session.objects.get().session_data == before
        clock.shift(timedelta(seconds=1))
        is_in(client)
        assert Session.objects.get().session_data != before
