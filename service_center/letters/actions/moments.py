"""The database's own clock in statements written by hand, as Django's Now() says it."""

from django.db import connection

_NOW = {"postgresql": "STATEMENT_TIMESTAMP()", "sqlite": "STRFTIME('%%Y-%%m-%%d %%H:%%M:%%f', 'NOW')"}
_IN_SECONDS = {
    "postgresql": "STATEMENT_TIMESTAMP() + INTERVAL '{:f} seconds'",
    "sqlite": "STRFTIME('%%Y-%%m-%%d %%H:%%M:%%f', 'NOW', '{:+f} seconds')",
}


def now() -> str:
    """This moment, as SQL."""
    return _NOW[connection.vendor]


def in_seconds(seconds: float) -> str:
    """So many seconds from now, as SQL."""
    return _IN_SECONDS[connection.vendor].format(seconds)
