"""How often a member of staff may search at the counter, and what is written down of it.

Whoever has the whole serial may take a piece in, so serials must not be tried out: a limit by person, and a line in
the log for each piece of another boutique that was found (design/reliability.md, B4, ASVS 2.4.1). A counter at work
searches a few times a minute. A cache that is away stops nobody.
"""

import logging
from datetime import datetime

from django.core.cache import cache
from redis.exceptions import RedisError

from service_center.access.models import Staff

A_MINUTE, AN_HOUR = 40, 400

log = logging.getLogger(__name__)


def one_more(staff: Staff, now: datetime) -> bool:
    """Count a search; whether it is within the limit."""
    minute = _count(f"counter-searches:{staff.pk}:{now:%Y%m%d%H%M}", seconds=120)
    hour = _count(f"counter-searches:{staff.pk}:{now:%Y%m%d%H}", seconds=7200)
    within = minute <= A_MINUTE and hour <= AN_HOUR
    if not within:
        log.warning("counter search refused: staff %s, %s this minute, %s this hour", staff.username, minute, hour)
    return within


def note_found_elsewhere(staff: Staff, serials: list[str]) -> None:
    """Write down which pieces of other boutiques were found by their whole serial."""
    if serials:
        log.info("counter search: staff %s, boutique %s, found %s", staff.username, staff.boutique, ", ".join(serials))


def _count(key: str, *, seconds: int) -> int:
    try:
        cache.add(key, 0, timeout=seconds)
        return int(cache.incr(key))
    except ValueError:  # the entry went between the two: it was the only one
        cache.set(key, 1, timeout=seconds)
    except (OSError, RedisError):
        log.warning("the cache is away: searches at the counter are not counted")
    return 1
