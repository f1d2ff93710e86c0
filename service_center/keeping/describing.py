"""What the database of the present connection holds, in numbers and hashes that a copy can be held against."""

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from service_center.exchange.actions import digest_of_book
from service_center.keeping.rules.manifest import Book, Contents

# A session is a way in, and stays behind: a backup has none.
LEFT_BEHIND = frozenset({"django_session"})


def described() -> Contents:
    """Migrations, rows by table, and the hash of the book. One statement a table, and those of `export_book`.

    The caller sees to it that all of it is of one state.
    """
    return Contents(migrations=migrations(), rows=rows_by_table(), book=book())


def migrations() -> tuple[str, ...]:
    """What was migrated: "app.name", sorted. Two statements."""
    return tuple(sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations()))


def rows_by_table() -> dict[str, int]:
    """How many rows each table has, those of sessions apart. One statement a table."""
    counts = {}
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            if table not in LEFT_BEHIND and not table.startswith("sqlite_"):
                cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608  # our own
                counts[table] = int(cursor.fetchone()[0])
    return counts


def book() -> Book:
    """The book as `export_book` writes it, hashed."""
    digest = digest_of_book()
    return Book(records=digest.records, sha256=digest.sha256, columns_sha256=digest.columns_sha256)
