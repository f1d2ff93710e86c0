"""A database out into a file, from a file into a scratch database, and from there into the site: SQLite and PostgreSQL.

Both sides offer the same: `copied_out`, `scratch`, `check` and `put_in_place`.
"""

from types import ModuleType

from django.db import connection

from service_center.keeping.databases import postgresql, sqlite


def of_this_site() -> ModuleType:
    """How the database of this site is copied."""
    return postgresql if connection.vendor == "postgresql" else sqlite
