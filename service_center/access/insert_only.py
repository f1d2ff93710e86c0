"""Triggers for tables of facts: rows are added, never changed and never taken away.

A migration calls `insert_only(table)`; the same promise holds on SQLite and on PostgreSQL. Where a fact holds what is
somebody's own, `erasable(table, columns)` lets those columns, and nothing else, be changed through the door of
erasing.py (GDPR, Art. 17). No row is ever taken away.
"""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps


def insert_only(table: str) -> migrations.RunPython:
    """The migration operation that makes `table` refuse UPDATE and DELETE."""

    def guard(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
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

    def release(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(f"DROP TRIGGER {table}_insert_only ON {table}")
            schema_editor.execute(f"DROP FUNCTION {table}_insert_only()")
            return
        for deed in ("update", "delete"):
            schema_editor.execute(f"DROP TRIGGER {table}_no_{deed}")

    return migrations.RunPython(guard, release)


# The table of access.models.ErasureDoor.
DOOR = "access_erasuredoor"


def erasable(table: str, *columns: str) -> migrations.RunPython:
    """The migration operation that lets `columns` of a table of facts be changed while the door stands open."""
    said = f"{table} holds facts: correct one by adding a later one"

    def open_for_erasure(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
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

    def shut(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
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

    return migrations.RunPython(open_for_erasure, shut)
