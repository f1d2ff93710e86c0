"""The one file of a backup: a zip archive whose last 64 characters are the SHA-256 of everything before them.

Any program that opens zip archives opens it. The checksum stands at the very end, in the archive's comment, so that one
changed byte anywhere, or one missing, is found before anything is read from it.
"""

import hashlib
import os
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from service_center.keeping.rules.manifest import (
    MANIFEST,
    BadName,
    Manifest,
    Member,
    NotAManifest,
    checked_name,
    manifest_from,
)

AT_ONCE = 1024 * 1024
DIGITS = 64
MARK = b"sha256:"
LARGEST_MANIFEST = 512 * 1024 * 1024
# What is compressed already is only stored.
STORED = (".jpg", ".jpeg", ".png", ".pdf", ".dump", ".zip")


class DamagedError(Exception):
    """The file is no backup, or not what it was when it was made. The message says what is wrong."""


class Writing:
    """A backup that is being written."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._zip = zipfile.ZipFile(stream, "w", allowZip64=True)
        self.members: dict[str, Member] = {}

    def add(self, name: str, source: Callable[[int], bytes]) -> Member:
        """Add a file. `source` gives at most so many bytes at a time, and none at its end."""
        info = zipfile.ZipInfo(checked_name(name))
        info.compress_type = zipfile.ZIP_STORED if name.endswith(STORED) else zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        digest, size = hashlib.sha256(), 0
        with self._zip.open(info, "w", force_zip64=True) as out:
            while part := source(AT_ONCE):
                out.write(part)
                digest.update(part)
                size += len(part)
        self.members[name] = Member(size, digest.hexdigest())
        return self.members[name]

    def add_text(self, name: str, text: str) -> None:
        """Add a text as a file."""
        self._zip.writestr(zipfile.ZipInfo(name), text.encode(), compress_type=zipfile.ZIP_DEFLATED)

    def close(self) -> None:
        """Write the archive's directory, with room for the checksum."""
        self._zip.comment = MARK + b"0" * DIGITS
        self._zip.close()

    def give_up(self) -> None:
        """Leave it as it is: it will be thrown away, and nothing more is written to a disk that may be full."""
        self._zip.fp = None


def seal(file: IO[bytes]) -> None:
    """Write the checksum into a closed archive, open for reading and writing, and put it on the disk."""
    file.flush()
    digest = _digest_but_the_last(file)
    file.seek(-DIGITS, os.SEEK_END)
    file.write(digest.encode("ascii"))
    file.flush()
    os.fsync(file.fileno())


@contextmanager
def opened(path: Path) -> Iterator["Reading"]:
    """A backup whose every byte is as it was written. Raises DamagedError, or OSError."""
    with path.open("rb") as file:
        _check_whole(file, path)
        try:
            with zipfile.ZipFile(file) as archive:
                yield Reading(path, archive)
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as error:
            raise DamagedError(f"{path}: it cannot be read as a backup ({error})") from error


class Reading:
    """An opened backup."""

    def __init__(self, path: Path, archive: zipfile.ZipFile) -> None:
        self._path, self._zip = path, archive
        try:
            self._infos = self._checked()
            self.manifest: Manifest = manifest_from(archive.read(MANIFEST))
        except (BadName, NotAManifest) as fault:
            raise DamagedError(f"{path}: {fault}") from fault
        listed = set(self.manifest.members)
        if listed != set(self._infos) - {MANIFEST}:
            odd = sorted(listed.symmetric_difference(set(self._infos) - {MANIFEST}))
            raise DamagedError(f"{path}: {odd[0]} is listed and not in it, or in it and not listed")

    def read(self, name: str, write: Callable[[bytes], object]) -> None:
        """Hand a file over in parts, and check it. Raises DamagedError: what was handed over is not to be used then."""
        expected, digest, size = self.manifest.members[name], hashlib.sha256(), 0
        with self._zip.open(self._infos[name]) as source:
            while part := source.read(AT_ONCE):
                size += len(part)
                if size > expected.size:
                    break
                digest.update(part)
                write(part)
        if size != expected.size or digest.hexdigest() != expected.sha256:
            raise DamagedError(f"{self._path}: {name} is not what the list says")

    def _checked(self) -> dict[str, zipfile.ZipInfo]:
        infos: dict[str, zipfile.ZipInfo] = {}
        for info in self._zip.infolist():
            if checked_name(info.filename) in infos:
                raise BadName(f"{info.filename!r} is in it twice")
            infos[info.filename] = info
        if MANIFEST not in infos or infos[MANIFEST].file_size > LARGEST_MANIFEST:
            raise NotAManifest("it has no list of what is in it")
        return infos


def _check_whole(file: IO[bytes], path: Path) -> None:
    length = file.seek(0, os.SEEK_END)
    if length < DIGITS + len(MARK):
        raise DamagedError(f"{path}: it is no backup, or cut off: {length} bytes")
    file.seek(-(DIGITS + len(MARK)), os.SEEK_END)
    tail = file.read()
    if not tail.startswith(MARK):
        raise DamagedError(f"{path}: it does not end as a backup does: it is none, or cut off")
    if _digest_but_the_last(file).encode("ascii") != tail[len(MARK) :]:
        raise DamagedError(f"{path}: it was changed after it was made: its checksum is another")
    file.seek(0)


def _digest_but_the_last(file: IO[bytes]) -> str:
    """SHA-256 of everything before the place of the checksum."""
    left = file.seek(0, os.SEEK_END) - DIGITS
    file.seek(0)
    digest = hashlib.sha256()
    while left > 0 and (part := file.read(min(AT_ONCE, left))):
        digest.update(part)
        left -= len(part)
    return digest.hexdigest()
