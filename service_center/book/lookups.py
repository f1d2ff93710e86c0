"""Looking rows up as the indexes of both databases like it: by a prefix, and by one of hundreds of values."""

import json
from typing import Any

from django.db.models import CharField, Field, ForeignObject, Lookup, OrderBy, TextField


@CharField.register_lookup
@TextField.register_lookup
class Prefix(Lookup):
    """`field__prefix="FH-21"`: GLOB on SQLite, LIKE on PostgreSQL (Django adds the pattern index to indexed text)."""

    lookup_name = "prefix"
    prepare_rhs = False

    def as_sqlite(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        left, params = self.process_lhs(compiler, connection)
        escaped = "".join(f"[{char}]" if char in "*?[" else char for char in str(self.rhs))
        return f"{left} GLOB %s", [*params, f"{escaped}*"]

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        left, params = self.process_lhs(compiler, connection)
        escaped = str(self.rhs).replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
        return f"{left} LIKE %s", [*params, f"{escaped}%"]


@Field.register_lookup
@ForeignObject.register_lookup
class OneOf(Lookup):
    """`field__one_of=values`: as `in`, for numbers and texts, with all values in one place of the statement.

    A place for each has to be made, checked and found again by Django and by the driver: with hundreds of values, and
    a dozen statements about the same ones, that takes longer than the database takes to answer.
    """

    lookup_name = "one_of"
    prepare_rhs = False

    def as_sqlite(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        left, params = self.process_lhs(compiler, connection)
        return f"{left} IN (SELECT value FROM json_each(%s))", [*params, json.dumps(list(self.rhs))]  # noqa: S608

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        left, params = self.process_lhs(compiler, connection)
        return f"{left} = ANY(%s)", [*params, list(self.rhs)]


class PrefixOrder(OrderBy):
    """The order of the index that a prefix search takes, byte by byte: the first of many are read off it, unsorted.

    In any other order PostgreSQL reads all that begin so and sorts them, or goes through the whole table in that order,
    whichever it takes to be less; where the matches lie together it guesses wrongly, and reads a million for 26.
    """

    def as_postgresql(self, compiler: Any, connection: Any) -> tuple[str, tuple[Any, ...]]:
        sql, params = compiler.compile(self.expression)
        # Django looks for one of its two words in every order; PostgreSQL has none beside an operator.
        return f"{sql} USING ~<~ /* ASC */", tuple(params)
