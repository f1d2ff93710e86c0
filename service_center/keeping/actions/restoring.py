"""A backup brought back into an empty site, with what the journals know of the time since."""

import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.contrib.sessions.models import Session
from django.core.files.storage import default_storage
from django.db import connection
from django.db.models import Model

from service_center.access.actions import leave_trail
from service_center.access.models import Staff, Trail
from service_center.book.models import Boutique, Calibre, Owner, Piece, WatchModel
from service_center.keeping import archive, house_settings
from service_center.keeping.actions.replaying import Journals, JournalsReplayed, of_this_machine, replay_journals
from service_center.keeping.actions.verifying import Tried, tried
from service_center.keeping.databases import of_this_site
from service_center.keeping.rules.manifest import (
    ERASURE_JOURNAL,
    FILES,
    SENT_JOURNAL,
    SETTINGS,
    Manifest,
)
from service_center.keeping.standing import standing_on
from service_center.letters import journal
from service_center.letters.faults import fault
from service_center.letters.models import Letter
from service_center.letters.rules.restored import RESTORED
from service_center.owner_pages import erasure_journal

Say = Callable[[str], object]
BESIDE = ".coming-"
# What a site that was only migrated has none of.
TELLING: dict[str, type[Model]] = {
    "members of staff": Staff,
    "owners": Owner,
    "pieces": Piece,
    "calibres": Calibre,
    "models": WatchModel,
    "boutiques": Boutique,
    "letters": Letter,
    "rows of the trail": Trail,
}


class NotEmptyError(Exception):
    """The site holds something already. The message says what."""


@dataclass(frozen=True, slots=True)
class Restored:
    """What was brought back. `settings_differ`: names of settings that were otherwise when the backup was made."""

    manifest: Manifest
    migrated: int
    photographs_missing: int
    settings_differ: list[str]
    journals: JournalsReplayed


def restore(path: Path, journals: Journals, *, now: datetime, say: Say, complain: Say) -> Restored:
    """Bring a backup back into this site, which must be empty.

    All of it is made ready in a scratch database, where the backup is tried as `verify` does, letters are held and both
    journals are replayed; only then does it take the site's place, in one transaction. So nothing goes out that waited,
    nothing goes out again, and whoever was erased stays erased, whenever this is cut off; it is then simply run again.
    Raises NotEmptyError, UnusableError, DatabaseFault, or OSError.
    """
    _refuse_unless_empty()
    with tried(path, say=say) as found:
        _refuse_other_files(found.manifest)
        say("Photographs and papers into place")
        for name in found.manifest.files:
            _put(found.archive, FILES + name, Path(default_storage.path(name)))
        with standing_on(found.scratch):
            replayed = _made_ready(found, journals, path, now=now, say=say, complain=complain)
        fault("restore")
        say("The database into place")
        of_this_site().put_in_place(found.scratch)
        differ = house_settings.differing(_settings_of(found.archive))
    return Restored(found.manifest, found.migrated, found.photographs_missing, differ, replayed)


def _made_ready(
    found: Tried, journals: Journals, path: Path, *, now: datetime, say: Say, complain: Say
) -> JournalsReplayed:
    """In the scratch database: nobody is signed in, nothing goes out, and the journals are heard."""
    Session.objects.all().delete()
    leave_trail(
        by=None,
        deed="restore",
        subject=RESTORED,
        after={"backup": path.name, "made_at": found.manifest.made_at.isoformat()},
    )
    say("The journals")
    _keep_journals(found.archive)
    own = of_this_machine()
    known = Journals(sent=[*journals.sent, *own.sent], erased=[*journals.erased, *own.erased])
    return replay_journals(known, now=now, complain=complain)


def _refuse_unless_empty() -> None:
    there = connection.introspection.table_names()
    for name, model in TELLING.items():
        table = model._meta.db_table  # noqa: SLF001  # documented for this
        if table in there and (count := model._default_manager.count()):  # noqa: SLF001
            raise NotEmptyError(f"this site is not empty: it has {count:,} {name}. A backup goes into an empty one")


def _refuse_other_files(manifest: Manifest) -> None:
    """Files of a restore that was cut off are the backup's own, and are written again."""
    place = Path(default_storage.path(""))
    for folder, _folders, names in os.walk(place):
        for name in names:
            below = (Path(folder) / name).relative_to(place).as_posix()
            if below not in manifest.files and not name.startswith(BESIDE):
                raise NotEmptyError(f"{place} is not empty: {below} is not of this backup")


def _put(reading: archive.Reading, name: str, path: Path) -> None:
    """Write a file of a backup beside its place, and put it there when it is whole."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=BESIDE, delete=False) as beside:
        try:
            reading.read(name, beside.write)
            beside.flush()
            os.fsync(beside.fileno())
            Path(beside.name).chmod(0o600)
            Path(beside.name).replace(path)
        except BaseException:
            Path(beside.name).unlink(missing_ok=True)
            raise


def _keep_journals(reading: archive.Reading) -> None:
    """The backup's journals are this machine's from now on: an older backup may be brought back one day.

    What this machine wrote itself stays; the lines of the backup that it lacks are added to it.
    """
    for name, place in ((SENT_JOURNAL, journal.file()), (ERASURE_JOURNAL, erasure_journal.file())):
        if name not in reading.manifest.members:
            continue
        if not place.exists():
            _put(reading, name, place)
            continue
        with tempfile.TemporaryDirectory(dir=place.parent) as room:
            came = Path(room) / "journal"
            _put(reading, name, came)
            own = {_short(line) for line in _lines(place)}
            with place.open("ab") as journal_file:
                for line in _lines(came):
                    if _short(line) not in own:
                        journal_file.write(b"\n" + line + b"\n")
                journal_file.flush()
                os.fsync(journal_file.fileno())


def _lines(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        yield from (line.strip() for line in file if line.strip())


def _short(line: bytes) -> bytes:
    """A journal may have millions of lines, and each of these is sixteen bytes."""
    return hashlib.blake2b(line, digest_size=16).digest()


def _settings_of(reading: archive.Reading) -> dict[str, object]:
    parts: list[bytes] = []
    reading.read(SETTINGS, parts.append)
    told: dict[str, object] = json.loads(b"".join(parts))
    return told
