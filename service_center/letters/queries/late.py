"""From when on a letter may leave whose own morning has passed."""

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime

from django.db.models import Q

from service_center.book.models import Owner
from service_center.intervals.models import DueDate
from service_center.letters.calendars import working_days, zone_of_owner
from service_center.letters.rules.mornings import in_the_morning


def next_mornings(owner_ids: Collection[int], now: datetime) -> dict[int, datetime]:
    """For each owner `now`, where it is the morning of a working day, or else the next such morning. Two statements.

    Country and zone as the rounds find them (`rounds.owners_before_round`).
    """
    countries, zones = _of_boutiques(owner_ids)
    found = {}
    owners = Owner.objects.filter(pk__one_of=set(owner_ids))
    for owner, country, own in owners.values_list("pk", "country", "time_zone"):
        zone = zone_of_owner(own, country, zones[owner], now.date())
        found[owner] = in_the_morning(now, zone, working_days(country or countries[owner]))
    return found


def _of_boutiques(owner_ids: Collection[int]) -> tuple[dict[int, str], dict[int, str]]:
    """Country and zone of the first boutique of an owner's pieces that names one, where theirs are not known."""
    countries: dict[int, str] = defaultdict(str)
    zones: dict[int, str] = defaultdict(str)
    unknown = Q(piece__owner__country="") | Q(piece__owner__time_zone="")
    rows = DueDate.objects.filter(
        unknown, piece__owner_id__one_of=set(owner_ids), held="", starts_on__isnull=False, piece__boutique__isnull=False
    ).order_by("piece__serial")
    for owner, country, zone in rows.values_list(
        "piece__owner_id", "piece__boutique__country", "piece__boutique__time_zone"
    ):
        if owner is not None:
            countries[owner] = countries[owner] or country
            zones[owner] = zones[owner] or zone
    return countries, zones
