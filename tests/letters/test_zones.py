"""In whose morning a letter leaves, as far as the house knows where its owner lives."""

from datetime import UTC, date, datetime

import pytest

from service_center.letters.calendars import zone_of_owner
from service_center.letters.rules.mornings import morning_of

DAY = date(2026, 3, 18)


@pytest.mark.parametrize(
    ("own", "country", "boutique", "zone"),
    [
        ("Asia/Tokyo", "DE", "Europe/Zurich", "Asia/Tokyo"),
        ("", "US", "America/Los_Angeles", "America/Los_Angeles"),
        ("", "IN", "Asia/Calcutta", "Asia/Calcutta"),  # an older name of the same
        ("", "", "Asia/Tokyo", "Asia/Tokyo"),
        ("", "XX", "Asia/Tokyo", "Asia/Tokyo"),
        ("", "gb", "Asia/Tokyo", "Europe/London"),
        ("Middle/Earth", "PT", "Europe/Zurich", "Atlantic/Azores"),
        ("", "", "", "UTC"),
    ],
)
def test_the_boutiques_zone_counts_in_its_own_country_alone(own: str, country: str, boutique: str, zone: str) -> None:
    assert zone_of_owner(own, country, boutique, DAY).key == zone


def test_nobody_in_a_country_is_written_to_before_nine_or_at_night() -> None:
    berlin = morning_of(DAY, zone_of_owner("", "DE", "Asia/Tokyo", DAY))
    assert berlin == datetime(2026, 3, 18, 8, 0, tzinfo=UTC)
    new_york = morning_of(DAY, zone_of_owner("", "US", "Europe/Zurich", DAY))
    assert new_york == datetime(2026, 3, 18, 19, 0, tzinfo=UTC)  # nine on Hawaii, three in the afternoon in New York
