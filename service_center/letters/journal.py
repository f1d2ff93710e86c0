"""The sent journal: a file beside the database in which stands what left the house, for the day of a restore.

A backup knows nothing of the letters that went out after it was made. The journal does: one line a letter, on the
disk before the database says "sent". Many senders on one machine add to one file; each machine has its own.
"""

import logging
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from service_center.letters.rules.journal import Gone, UnreadableLine, gone_from, line_of

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that says nothing: its number, from 1, and why."""

    number: int
    why: str


def file() -> Path:
    """Where this machine's journal lies."""
    return settings.DATA_DIR / "sent.journal"


def append(gone: Gone) -> None:
    """Add a letter and wait until it is on the disk.

    Never raises: the letter is out, and that the database says so matters more than this line.
    """
    # The line begins with an end of line, so that it stands alone even behind one that a power cut tore.
    record = f"\n{line_of(gone)}\n".encode("ascii")
    try:
        new = not file().exists()
        handle = os.open(file(), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            os.write(handle, record)
            os.fdatasync(handle)
        finally:
            os.close(handle)
        if new:
            _keep_name(file().parent)
    except OSError:
        logger.exception("Letter %s went out, but is not in the sent journal", gone.going.letter)


def read(path: Path) -> Iterator[Gone | BadLine]:
    """Every record of a journal, in the order in which they were written. Raises OSError."""
    with path.open(encoding="utf-8", errors="replace") as lines:
        for number, line in enumerate(lines, start=1):
            if line.strip():
                try:
                    yield gone_from(line)
                except UnreadableLine as fault:
                    yield BadLine(number, str(fault))


def _keep_name(folder: Path) -> None:
    """A new file's name is on the disk once its folder is."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
