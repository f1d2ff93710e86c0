"""Where each file of a book stands in the database."""

# ruff: noqa: SLF001  # a model's _meta is documented for this (docs.djangoproject.com, Model _meta API)

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import connection
from django.db.models import Field, ForeignKey, Model

from service_center.book.actions import owner_keys, piece_keys
from service_center.book.models import Boutique, Calibre, HistoryEntry, Owner, Piece, WatchModel
from service_center.book.rules import Place
from service_center.exchange.rules import FILES, BookFile
from service_center.intervals.models import IntervalRule
from service_center.planning.models import SkillHours


def quote(name: str) -> str:
    """A database name, quoted."""
    return connection.ops.quote_name(name)


@dataclass(frozen=True, slots=True)
class Table:
    """One file's table. `fields` names the model's field where it is not called as the column is.

    `derive` works out further fields from a record's stored text, `constants` are those of every new row.
    `insert_only`: facts, which an import adds to and never changes.
    """

    file: BookFile
    model: type[Model]
    fields: Mapping[str, str]
    derived: tuple[str, ...] = ()
    derived_from: tuple[str, ...] = ()
    derive: Callable[..., dict[str, str]] | None = None
    constants: Mapping[str, Any] = field(default_factory=dict)
    insert_only: bool = False

    @property
    def name(self) -> str:
        """The table's name, quoted."""
        return quote(self.model._meta.db_table)

    @property
    def key(self) -> str:
        """The database's name of the key column, quoted."""
        return self.stored_as(self.file.key)

    def field(self, column: str) -> "Field[Any, Any]":
        """The model's field of a file's column."""
        found = self.model._meta.get_field(self.fields.get(column, column))
        assert isinstance(found, Field)
        return found

    def stored_as(self, column: str) -> str:
        """The database's name of a file's column, quoted."""
        return quote(str(self.field(column).column))

    def stored_type(self, column: str) -> str:
        """The database's type for a column's text; of a reference, that of the key it names."""
        found = self.field(column)
        if isinstance(found, ForeignKey):
            related = table_of(found)
            found = related.field(related.file.key)
        return found.db_type(connection) or "text"


_BY_STEM = {file.stem: file for file in FILES}

TABLES: dict[str, Table] = {
    table.file.stem: table
    for table in (
        Table(_BY_STEM["calibres"], Calibre, {"calibre": "code"}),
        Table(_BY_STEM["models"], WatchModel, {}),
        Table(_BY_STEM["boutiques"], Boutique, {"boutique": "code"}),
        Table(
            _BY_STEM["owners"],
            Owner,
            {"owner": "code"},
            derived=("name_key", "family_name_key", "phone_key"),
            derived_from=("name", "phone"),
            derive=lambda name, phone: owner_keys(name=name, phone=phone),
        ),
        Table(
            _BY_STEM["pieces"],
            Piece,
            {"reference": "model"},
            derived=("serial_key", "serial_key_reversed"),
            derived_from=("serial",),
            derive=piece_keys,
            constants={"place": Place.OWNER.value},
        ),
        Table(_BY_STEM["history"], HistoryEntry, {"entry": "code", "serial": "piece"}, insert_only=True),
        Table(_BY_STEM["rules"], IntervalRule, {"rule": "code"}),
        Table(_BY_STEM["skills"], SkillHours, {}),
    )
}


def table_of(reference: "ForeignKey[Any, Any]") -> Table:
    """The table that a foreign key points into."""
    return next(table for table in TABLES.values() if table.model is reference.related_model)
