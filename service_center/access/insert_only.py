"""Triggers for tables of facts: rows are added, never changed and never taken away.

A migration calls `insert_only(table)`; the same promise holds on SQLite and on PostgreSQL. Where a fact holds what is
somebody's own, `erasable(table, columns)` lets those columns, and nothing else, be changed through the door of
erasing.py (GDPR, Art. 17). No row is ever taken away.
"""

from collections.abc import Callable

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState

Guarding = Callable[[BaseDatabaseSchemaEditor], None]


class GuardsTable(Operation):
    """What a migration does to triggers alone. No model takes part.

    RunPython hands all models over as they were then, and works each of them out anew to do so, which was a good part
    of the time that a new book takes to be made.
    """

    atomic = True

    def __init__(self, forwards: Guarding, backwards: Guarding) -> None:
        self.forwards, self.backwards = forwards, backwards

    @property
    def undone(self) -> "GuardsTable":
        """The operation that takes this one back, for a migration that makes the table anew in between."""
        return GuardsTable(self.backwards, self.forwards)

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Models stay as they are."""

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        self.forwards(schema_editor)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        self.backwards(schema_editor)

    def describe(self) -> str:
        return "Guards a table of facts"


def insert_only(table: str) -> GuardsTable:
    """The migration operation that makes `table` refuse UPDATE and DELETE."""

    def guard(schema_editor: BaseDatabaseSchemaEditor) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"""CREATE OR REPLACE FUNCTION {table}_insert_only() RETURNS trigger LANGUAGE plpgsql AS
                $$ BEGIN RAISE EXCEPTION '{table} holds facts: correct one by adding a later one'; END $$"""
            )
            schema_editor.execute(
                f"""CREATE TRIGGER {table}_insert_only BEFORE UPDATE OR DELETE ON {table}
                FOR EACH ROW EXECUTE FUNCTION {table}_insert_only()"""
            )
            return
        for deed in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f"""CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table}
                BEGIN SELECT RAISE(ABORT, '{table} holds facts: correct one by adding a later one'); END"""
            )

    def release(schema_editor: BaseDatabaseSchemaEditor) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(f"DROP TRIGGER {table}_insert_only ON {table}")
            schema_editor.execute(f"DROP FUNCTION {table}_insert_only()")
            return
        for deed in ("update", "delete"):
            schema_editor.execute(f"DROP TRIGGER {table}_no_{deed}")

    return GuardsTable(guard, release)


# The table of access.models.ErasureDoor.
DOOR = "access_erasuredoor"


def erasable(table: str, *columns: str) -> GuardsTable:
    """The migration operation that lets `columns` of a table of facts be changed while the door stands open."""
    said = f"{table} holds facts: correct one by adding a later one"

    def open_for_erasure(schema_editor: BaseDatabaseSchemaEditor) -> None:
        if schema_editor.connection.vendor == "postgresql":
            names = "{" + ",".join(columns) + "}"
            schema_editor.execute(
                f"""CREATE OR REPLACE FUNCTION {table}_insert_only() RETURNS trigger LANGUAGE plpgsql AS
                $$ BEGIN
                IF TG_OP = 'UPDATE' AND EXISTS (SELECT 1 FROM {DOOR})
                   AND to_jsonb(NEW) - '{names}'::text[] = to_jsonb(OLD) - '{names}'::text[]
                THEN RETURN NEW; END IF;
                RAISE EXCEPTION '{said}'; END $$"""  # noqa: S608  # names of our own tables
            )
            return
        with schema_editor.connection.cursor() as cursor:
            there = schema_editor.connection.introspection.get_table_description(cursor, table)
        kept = " AND ".join(f'NEW."{one.name}" IS OLD."{one.name}"' for one in there if one.name not in columns)
        schema_editor.execute(f"DROP TRIGGER {table}_no_update")
        schema_editor.execute(
            f"""CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
            WHEN NOT (EXISTS (SELECT 1 FROM {DOOR}) AND {kept})
            BEGIN SELECT RAISE(ABORT, '{said}'); END"""  # noqa: S608  # names of our own tables
        )

    def shut(schema_editor: BaseDatabaseSchemaEditor) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"""CREATE OR REPLACE FUNCTION {table}_insert_only() RETURNS trigger LANGUAGE plpgsql AS
                $$ BEGIN RAISE EXCEPTION '{said}'; END $$"""
            )
            return
        schema_editor.execute(f"DROP TRIGGER {table}_no_update")
        schema_editor.execute(
            f"""CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
            BEGIN SELECT RAISE(ABORT, '{said}'); END"""
        )

    return GuardsTable(open_for_erasure, shut)
