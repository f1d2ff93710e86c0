"""Whoever tries secrets that open nothing is stopped for the rest of the minute; the neighbour is not."""

from datetime import UTC, datetime

import pytest
from django.test import override_settings

from service_center.owner_pages import misses

NOW = datetime(2026, 6, 5, 9, 30, 10, tzinfo=UTC)
SAME_MINUTE = datetime(2026, 6, 5, 9, 30, 59, tzinfo=UTC)
NEXT_MINUTE = datetime(2026, 6, 5, 9, 31, tzinfo=UTC)


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("198.51.100.7", "198.51.100.0"),
        ("198.51.100.250", "198.51.100.0"),
        ("2001:db8:1:2:3::4", "2001:db8:1:2::"),
        ("::ffff:198.51.100.7", "198.51.100.0"),
        ("", "unknown"),
        ("no address", "unknown"),
    ],
)
def test_addresses_of_one_network_count_together(address: str, network: str) -> None:
    assert misses.network_of(address) == network


def test_twenty_misses_a_minute_are_borne_and_then_no_more() -> None:
    for _miss in range(19):
        misses.count("198.51.100.0", NOW)
    assert not misses.too_many("198.51.100.0", NOW)
    misses.count("198.51.100.0", NOW)
    assert misses.too_many("198.51.100.0", SAME_MINUTE)
    assert not misses.too_many("203.0.113.0", SAME_MINUTE)
    assert not misses.too_many("198.51.100.0", NEXT_MINUTE)


@override_settings(
    CACHES={
        "default": {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": "redis://127.0.0.1:1/0",  # nothing listens there
        }
    }
)
def test_a_cache_that_is_away_stops_no_owner(caplog: pytest.LogCaptureFixture) -> None:
    misses.count("198.51.100.0", NOW)
    assert not misses.too_many("198.51.100.0", NOW)
    assert "the cache is away" in caplog.text
