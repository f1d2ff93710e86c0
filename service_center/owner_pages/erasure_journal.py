"""The erasure journal: a file beside the database in which stands who was erased, for the day of a restore.

A backup knows nothing of the owners who were erased after it was made. The journal does: one line an erasure, on the
disk before the database says "erased". Each machine has its own. It holds no name and no address (rules/erased.py).
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from service_center.owner_pages.rules.erased import Erased, UnreadableErasure, erased_from, line_of


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that says nothing: its number, from 1, and why."""

    number: int
    why: str


def file() -> Path:
    """Where this machine's journal lies."""
    return settings.DATA_DIR / "erased.journal"


def add(erased: Erased) -> None:
    """Write an erasure down; it is on the disk when this returns. Raises OSError: then it must not be done."""
    file().parent.mkdir(parents=True, exist_ok=True)
    new = not file().exists()
    handle = os.open(file(), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    try:
        # The line begins with an end of line, so that it stands alone even behind one that a power cut tore.
        _write(handle, f"\n{line_of(erased)}\n".encode("ascii"))
        os.fsync(handle)
    finally:
        os.close(handle)
    if new:
        _keep_name(file().parent)


def read(path: Path) -> Iterator[Erased | BadLine]:
    """Every record of a journal, in the order in which they were written. Raises OSError."""
    with path.open(encoding="utf-8", errors="replace") as lines:
        for number, line in enumerate(lines, start=1):
            if line.strip():
                try:
                    yield erased_from(line)
                except UnreadableErasure as fault:
                    yield BadLine(number, str(fault))


def _write(handle: int, record: bytes) -> None:
    if os.write(handle, record) < len(record):
        raise OSError("the disk took only a part of the line")


def _keep_name(folder: Path) -> None:
    """A new file's name is on the disk once its folder is."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
