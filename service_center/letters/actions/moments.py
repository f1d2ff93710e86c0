"""The database's own clock in statements written by hand, as Django's Now() says it."""

_NOW = {"postgresql": "STATEMENT_TIMESTAMP()", "sqlite": "STRFTIME('%%Y-%%m-%%d %%H:%%M:%%f', 'NOW')"}
_IN_SECONDS = {
    "postgresql": "STATEMENT_TIMESTAMP() + INTERVAL '{:f} seconds'",
    "sqlite": "STRFTIME('%%Y-%%m-%%d %%H:%%M:%%f', 'NOW', '{:+f} seconds')",
}


def now(vendor: str) -> str:
    """This moment, as SQL of that database."""
    return _NOW[vendor]


def in_seconds(seconds: float, vendor: str) -> str:
    """So many seconds from now, as SQL of that database."""
    return _IN_SECONDS[vendor].format(seconds)
