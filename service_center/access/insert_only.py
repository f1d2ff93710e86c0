"""Triggers for tables of facts: rows are added, never changed and never taken away.

A migration calls `insert_only(table)`; the same promise holds on SQLite and on PostgreSQL.
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
