"""The one statement for which every letter waits, by a plan that PostgreSQL keeps as long as its connection lives.

Django's cursor writes values into the text, so that each letter's would be a statement to be read and planned anew;
psycopg's own can prepare one, and takes the sender longer than PostgreSQL takes to plan it. libpq does neither.
"""

import threading
import time
from collections.abc import Mapping
from typing import Any
from weakref import WeakKeyDictionary

import psycopg
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from psycopg.errors import error_from_result
from psycopg.pq import ExecStatus

Value = int | str | None

_this_thread = threading.local()
# What each connection has prepared: statements, and their names.
_prepared: WeakKeyDictionary[Any, dict[str, bytes]] = WeakKeyDictionary()


def of_this_thread() -> BaseDatabaseWrapper:
    """Django's own connection of this thread. Its proxy looks for it anew at each name, which is dear for each letter."""
    found: BaseDatabaseWrapper | None = getattr(_this_thread, "connection", None)
    if found is None:
        found = _this_thread.connection = connections[DEFAULT_DB_ALIAS]
    return found


def updated(statement: str, values: Mapping[str, Value]) -> list[int]:
    """Carry out an UPDATE ... RETURNING id, its values in their places `%(name)s`. Which rows it changed.

    On PostgreSQL not as the first statement of a transaction: that one would not begin it. Raises Django's
    DatabaseError and its kinds.
    """
    connection = of_this_thread()
    if connection.vendor != "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(statement, values)
            return [pk for (pk,) in cursor.fetchall()]
    connection.ensure_connection()
    began = time.monotonic()
    with connection.wrap_database_errors:
        found = _by_kept_plan(connection.connection, statement, values)
    if connection.queries_logged:
        connection.queries_log.append({"sql": statement, "time": f"{time.monotonic() - began:.3f}"})
    return found


def _by_kept_plan(line: Any, statement: str, values: Mapping[str, Value]) -> list[int]:
    names = _prepared.setdefault(line, {})
    if statement not in names:
        name = f"kept_plan_{len(names)}".encode()
        _good(line, line.pgconn.prepare(name, _numbered(statement, values).encode()))
        names[statement] = name
    given = [None if value is None else str(value).encode() for value in values.values()]
    result = _good(line, line.pgconn.exec_prepared(names[statement], given))
    return [int(result.get_value(row, 0)) for row in range(result.ntuples)]


def _numbered(statement: str, values: Mapping[str, Value]) -> str:
    for number, name in enumerate(values, start=1):
        statement = statement.replace(f"%({name})s", f"${number}")
    return statement


def _good(line: Any, result: Any) -> Any:
    if result.status in (ExecStatus.COMMAND_OK, ExecStatus.TUPLES_OK):
        return result
    if line.broken:
        raise psycopg.OperationalError("the database closed the connection")
    raise error_from_result(result)
