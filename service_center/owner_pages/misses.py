"""How often a network may try secrets that open nothing: twenty times a minute, then nothing opens for it.

The secrets cannot be guessed (256 bits); this keeps whoever tries from making work. A cache that is away
therefore stops nobody.
"""

import ipaddress
import logging
from datetime import datetime

from django.core.cache import cache
from redis.exceptions import RedisError

MISSES_A_MINUTE = 20
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
    try:
        return (cache.get(_key(network, now)) or 0) >= MISSES_A_MINUTE
    except (OSError, RedisError):
        log.warning("the cache is away: misses on owner links are not counted")
        return False


def count(network: str, now: datetime) -> None:
    """Count one more miss."""
    key = _key(network, now)
    try:
        cache.add(key, 0, timeout=120)
        cache.incr(key)
    except ValueError:  # the entry went between the two: it was the only one
        cache.set(key, 1, timeout=120)
    except (OSError, RedisError):
        log.warning("the cache is away: misses on owner links are not counted")


def _key(network: str, now: datetime) -> str:
    return f"owner-link-misses:{network}:{now:%Y%m%d%H%M}"
