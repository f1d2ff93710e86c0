"""Everything of a house into one file, while it is open (design/reliability.md, B3)."""

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.files.storage import default_storage
from django.db import connection

from service_center import __version__
from service_center.keeping import archive, house_settings
from service_center.keeping.databases import of_this_site
from service_center.keeping.room import give_name, room_in
from service_center.keeping.rules.manifest import (
    DATABASES,
    ERASURE_JOURNAL,
    FILES,
    MANIFEST,
    SENT_JOURNAL,
    SETTINGS,
    Manifest,
    text_of,
)
from service_center.letters import journal
from service_center.owner_pages import erasure_journal

Say = Callable[[str], object]


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What a backup holds, and how many bytes it is long."""

    manifest: Manifest
    size: int


def back_up(target: Path, *, now: datetime, say: Say) -> BackedUp:
    """Write a backup of this site to a file that is not there yet.

    The database is one state of it, and people go on working; photographs and papers are read after it, so that none
    that it names is missed. The file is written beside its name, and gets it when it is whole and on the disk. It holds
    no session and no secret. Raises FileExistsError, other OSError, DatabaseFault, or BadName for a file below
    DATA_DIR/files whose name cannot be kept; nothing is left behind then.
    """
    if target.exists() or target.is_symlink():
        raise FileExistsError(target)
    with room_in(target.parent) as room:
        beside = room / "backup.zip"
        with open(os.open(beside, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as file:  # noqa: PTH123  # its mode
            writing = archive.Writing(file)
            try:
                manifest = _write(writing, room, now=now, say=say)
            except BaseException:
                writing.give_up()
                raise
            archive.seal(file)
            size = file.seek(0, os.SEEK_END)
        give_name(beside, target)
    return BackedUp(manifest, size)


def _write(writing: archive.Writing, room: Path, *, now: datetime, say: Say) -> Manifest:
    database = connection.vendor
    say("The database")
    with of_this_site().copied_out(room) as (read, described):
        writing.add(DATABASES[database], read)
        say("What it holds")
        contents = described()
    say("Photographs and papers")
    for name, path in _files():
        _add_if_there(writing, name, path)
    for name, path in ((SENT_JOURNAL, journal.file()), (ERASURE_JOURNAL, erasure_journal.file())):
        _add_if_there(writing, name, path)
    kept = iter([json.dumps(house_settings.kept(), indent=1).encode(), b""])
    writing.add(SETTINGS, lambda _size: next(kept))
    manifest = Manifest(
        made_at=now,
        version=__version__,
        house=settings.HOUSE_NAME,
        database=database,
        contents=contents,
        members=dict(writing.members),
    )
    writing.add_text(MANIFEST, text_of(manifest))
    writing.close()
    return manifest


def _files() -> Iterator[tuple[str, Path]]:
    """Every photograph and paper: its name in a backup, and where it lies."""
    place = Path(default_storage.path(""))
    for folder, folders, names in os.walk(place):
        folders.sort()
        for name in sorted(names):
            path = Path(folder) / name
            if path.is_file() and not path.is_symlink():
                yield FILES + path.relative_to(place).as_posix(), path


def _add_if_there(writing: archive.Writing, name: str, path: Path) -> None:
    """What was taken away since is not in the backup."""
    try:
        file = path.open("rb")
    except FileNotFoundError:
        return
    with file:
        writing.add(name, file.read)
