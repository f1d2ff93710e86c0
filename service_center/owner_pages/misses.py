"""How often a network may try secrets that open nothing, and how often a link's buttons may be pressed, in a minute.

The secrets cannot be guessed (256 bits); this keeps whoever tries from making work. A cache that is away
therefore stops nobody.
"""

import ipaddress
import logging
from datetime import datetime

from django.core.cache import cache
from redis.exceptions import RedisError

MISSES_A_MINUTE = 20
DEEDS_A_MINUTE = 60  # more than a person presses, and than a browser that tries again
IPV4_BITS, IPV6_BITS = 24, 64  # what one provider commonly gives to one customer, and a little more

log = logging.getLogger(__name__)


def network_of(address: str) -> str:
    """The network an address belongs to; one for all where the address is none (a socket file)."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return "unknown"
    mapped = getattr(parsed, "ipv4_mapped", None)
    parsed = mapped or parsed
    bits = IPV4_BITS if parsed.version == 4 else IPV6_BITS
    return str(ipaddress.ip_network(f"{parsed}/{bits}", strict=False).network_address)


def too_many(network: str, now: datetime) -> bool:
    """Whether a network has used up its misses of this minute."""
    return _counted(f"owner-link-misses:{network}", now) >= MISSES_A_MINUTE


def count(network: str, now: datetime) -> None:
    """Count one more miss."""
    _count(f"owner-link-misses:{network}", now)


def too_many_deeds(link: str, now: datetime) -> bool:
    """Count one more press of a button behind a link (named by its hash); whether that was too many in this minute."""
    key = f"owner-link-deeds:{link}"
    _count(key, now)
    return _counted(key, now) > DEEDS_A_MINUTE


def _counted(what: str, now: datetime) -> int:
    try:
        return cache.get(_key(what, now)) or 0
    except (OSError, RedisError):
        log.warning("the cache is away: nothing is counted on owners' pages")
        return 0


def _count(what: str, now: datetime) -> None:
    key = _key(what, now)
    try:
        cache.add(key, 0, timeout=120)
        cache.incr(key)
    except ValueError:  # the entry went between the two: it was the only one
        cache.set(key, 1, timeout=120)
    except (OSError, RedisError):
        log.warning("the cache is away: nothing is counted on owners' pages")


def _key(what: str, now: datetime) -> str:
    return f"{what}:{now:%Y%m%d%H%M}"
