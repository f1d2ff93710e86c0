"""Whether a backup could be brought back: it is, into a scratch database, and held against its own list."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from service_center.intake.models import Photograph
from service_center.intake.photographs.queries import Size, file_of
from service_center.keeping import archive, describing
from service_center.keeping.databases import of_this_site
from service_center.keeping.databases.faults import UnreadableDatabase
from service_center.keeping.models import VerifiedBackup
from service_center.keeping.room import room_in
from service_center.keeping.rules.manifest import Contents, Manifest, differences
from service_center.keeping.standing import standing_on

Say = Callable[[str], object]
TOLD = 5  # differences at most
NAMES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}


class UnusableError(Exception):
    """This site cannot use that backup, or nobody can. The message says why."""


@dataclass(frozen=True, slots=True)
class Tried:
    """A backup that is whole, in a scratch database that was migrated to now.

    `scratch`: for `standing_on`. `migrated`: how many migrations came since. `book_same`: whether the book's hash is
    the list's; None where migrations since may rightly have changed it. `photographs_missing`: files of photographs
    that the book names and the backup lacks.
    """

    manifest: Manifest
    archive: archive.Reading
    scratch: dict[str, Any]
    migrated: int
    book_same: bool | None
    photographs_missing: int


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found of a backup that is whole."""

    manifest: Manifest
    size: int
    migrated: int
    book_same: bool | None
    photographs_missing: int


def verify(path: Path, *, now: datetime, say: Say) -> Verified:
    """Try a backup, and write down that it was found whole. Raises UnusableError, DatabaseFault, or OSError."""
    with tried(path, say=say) as found:
        result = Verified(
            found.manifest,
            path.stat().st_size,
            found.migrated,
            found.book_same,
            found.photographs_missing,
        )
    VerifiedBackup.objects.create(
        made_at=result.manifest.made_at, verified_at=now, name=path.name[:255], size=result.size
    )
    return result


@contextmanager
def tried(path: Path, *, say: Say) -> Iterator[Tried]:
    """Bring a backup back into a scratch database that ends with the block.

    Raises UnusableError with the reason, DatabaseFault, or OSError.
    """
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    try:
        say("Its checksum")
        with archive.opened(path) as reading, room_in(settings.DATA_DIR) as room:
            manifest = reading.manifest
            _check_ours(path, manifest)
            say("Photographs and papers")
            for name in manifest.members:
                if name != manifest.database_member:
                    reading.read(name, lambda _part: None)
            say("The database")
            with of_this_site().scratch(room, lambda write: reading.read(manifest.database_member, write)) as scratch:
                with standing_on(scratch):
                    migrated, same, missing = _held_against(path, manifest, say)
                yield Tried(manifest, reading, scratch, migrated, same, missing)
    except (archive.DamagedError, UnreadableDatabase) as fault:
        said = str(fault)
        raise UnusableError(said if said.startswith(str(path)) else f"{path}: {said}") from fault


def _check_ours(path: Path, manifest: Manifest) -> None:
    """Whether this site could hold it at all."""
    if manifest.database != connection.vendor:
        raise UnusableError(
            f"{path}: it was made on {NAMES[manifest.database]}, and this site is on {NAMES[connection.vendor]}. Bring "
            f"it back on {NAMES[manifest.database]}; the book alone goes across with export_book and import_book"
        )
    later = sorted(set(manifest.contents.migrations) - _known_migrations())
    if later:
        raise UnusableError(
            f"{path}: it was made by a later version ({manifest.version}): this program does not know {later[0]}"
        )


def _known_migrations() -> set[str]:
    return {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}


def _held_against(path: Path, manifest: Manifest, say: Say) -> tuple[int, bool | None, int]:
    """Compare, migrate, compare: how many migrations came, whether the book is the same, and lacking photographs."""
    before = manifest.contents
    found = Contents(describing.migrations(), describing.rows_by_table(), before.book)
    if said := differences(before, found):
        raise UnusableError(f"{path}: {'; '.join(said[:TOLD])}")
    call_command("migrate", interactive=False, verbosity=0)
    of_this_site().check()
    migrated = len(describing.migrations()) - len(before.migrations)
    say("The book")
    book = describing.book()
    same: bool | None = book.sha256 == before.book.sha256
    if not same:
        if not migrated and book.columns_sha256 == before.book.columns_sha256:
            raise UnusableError(f"{path}: the book that comes out of it is another than the one that went in")
        same = None
    return migrated, same, _photographs_missing(manifest)


def _photographs_missing(manifest: Manifest) -> int:
    """One statement."""
    there = manifest.files.keys()
    keys = Photograph.objects.values_list("key", flat=True).iterator()
    return sum(file_of(key, Size.FULL) not in there for key in keys)
