"""Whether the site can work."""

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor


def pending_migrations() -> list[str]:
    """The names of migrations that the database lacks, in the order in which they would run."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [f"{migration.app_label}.{migration.name}" for migration, _backwards in plan]


def database_answers() -> bool:
    """Whether the database answers a question. One statement."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return cursor.fetchone() == (1,)
    except DatabaseError:
        return False
