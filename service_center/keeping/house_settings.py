"""The house's settings, as far as they are nobody's secret: they go into a backup, and a restore says what differs."""

from typing import Any
from urllib.parse import urlsplit

from django.conf import settings

# By name: what is not named here stays out. Passwords, keys and secrets have no name here.
KEPT = (
    "SITE_URL", "ALLOWED_HOSTS", "TRUSTED_PROXIES", "HOUSE_NAME", "MAIL_FROM", "SHELF_MONTHS", "ROUND_LETTERS_USUAL",
    "VISIT_MINUTES", "RETURNED_MAIL_DAYS", "RECEIPT_YEARS", "BACKUP_VERIFIED_DAYS", "HOUSE_CURRENCY", "TIME_ZONE",
    "EMAIL_HOST", "EMAIL_PORT", "EMAIL_TIMEOUT", "MAIL_DOT_SECONDS", "LETTER_LEASE_SECONDS", "BOUNCE_DOMAIN",
    "MAIL_PROVIDER",
)  # fmt: skip


def kept() -> dict[str, Any]:
    """Names and values, as JSON has them; an address without user and password."""
    return {name: _without_password(getattr(settings, name)) for name in KEPT}


def differing(before: dict[str, Any]) -> list[str]:
    """Names of settings that a backup has otherwise than this site, sorted."""
    return sorted(name for name, value in kept().items() if name in before and before[name] != value)


def _without_password(value: Any) -> Any:
    if not isinstance(value, str) or "@" not in value or "://" not in value:
        return value
    parts = urlsplit(value)
    return parts._replace(netloc=parts.netloc.rpartition("@")[2]).geturl()
