"""Standing on another database for a while: the code that knows the book by `connection` then works on a copy of it."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import DEFAULT_DB_ALIAS, load_backend


@contextmanager
def standing_on(changes: dict[str, Any]) -> Iterator[BaseDatabaseWrapper]:
    """A connection of its own to another database, in the place of this thread's. `changes`: to the site's settings."""
    here = connections[DEFAULT_DB_ALIAS]
    assert not here.in_atomic_block, "what is under way on this database would be left behind"
    backend: Any = load_backend(here.settings_dict["ENGINE"])
    other = backend.DatabaseWrapper({**here.settings_dict, "CONN_MAX_AGE": 0, **changes}, DEFAULT_DB_ALIAS)
    connections[DEFAULT_DB_ALIAS] = other
    ContentType.objects.clear_cache()
    try:
        yield other
    finally:
        other.close()
        connections[DEFAULT_DB_ALIAS] = here
        ContentType.objects.clear_cache()
