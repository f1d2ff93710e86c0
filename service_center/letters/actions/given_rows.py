"""Hundreds of rows handed to the database as one value: JSON, which it takes apart by itself.

A place in the statement for each value would have to be found by the driver and read by the database: with hundreds
of rows that takes longer than carrying the statement out.
"""

import json
from collections.abc import Sequence
from typing import Any

from django.db import connection


def as_given(columns: Sequence[tuple[str, str]]) -> str:
    """What stands behind FROM: the rows under the name `given`, from the one value that stands in its place.

    `columns`: names, and their types in SQL, in the order in which `as_value` is given a row.
    """
    if connection.vendor == "postgresql":
        typed = ", ".join(f'(row ->> {at})::{kind} AS "{name}"' for at, (name, kind) in enumerate(columns))
        return f"(SELECT {typed} FROM json_array_elements(CAST(%s AS json)) AS row) AS given"  # noqa: S608  # our own names
    typed = ", ".join(f"json_extract(value, '$[{at}]') AS \"{name}\"" for at, (name, _kind) in enumerate(columns))
    return f"(SELECT {typed} FROM json_each(%s)) AS given"  # noqa: S608  # our own names


def as_value(rows: Sequence[Sequence[Any]]) -> str:
    """The rows, each as many values as there are columns: texts, numbers, or nothing."""
    return json.dumps(rows)
