"""The sent journal: a file beside the database in which stands what left the house, for the day of a restore.

A backup knows nothing of the letters that went out after it was made. The journal does: one line a letter, on the
disk before the database says "sent". Many senders on one machine add to one file; each machine has its own.
It also settles what a sender that died knew and could not tell the database any more (`actions/lost.py`).
"""

import contextlib
import json
import logging
import os
from collections.abc import Collection, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from service_center.letters.rules.journal import Gone, UnreadableLine, gone_from, line_of

logger = logging.getLogger(__name__)

SIXTEEN_MEGABYTES = 16 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that says nothing: its number, from 1, and why."""

    number: int
    why: str


def file() -> Path:
    """Where this machine's journal lies."""
    return settings.DATA_DIR / "sent.journal"


class Journal:
    """This machine's journal, in the hands of one sender. Close it.

    Never raises: the letter is out, and that the database says so matters more than its line.
    """

    def __init__(self) -> None:
        self._handle: int | None = None
        self._disk = ThreadPoolExecutor(max_workers=1, thread_name_prefix="journal")
        self._on_its_way: Future[None] | None = None

    def add(self, gone: Gone) -> None:
        """Write a letter down: it outlives this process at once, and the machine once `wait` returns."""
        # The line begins with an end of line, so that it stands alone even behind one that a power cut tore.
        record = f"\n{line_of(gone)}\n".encode("ascii")
        try:
            if self._handle is None:
                self._handle = _opened()
            os.write(self._handle, record)
            # The disk works while the sender talks to the mail server.
            self._on_its_way = self._disk.submit(os.fdatasync, self._handle)
        except OSError:
            logger.exception("Letter %s went out, but is not in the sent journal", gone.going.letter)

    def wait(self) -> None:
        """Until all that was added is on the disk."""
        on_its_way, self._on_its_way = self._on_its_way, None
        if on_its_way is not None:
            try:
                on_its_way.result()
            except OSError:
                logger.exception("The sent journal is not on the disk")

    def close(self) -> None:
        """Wait, and let the file go."""
        self.wait()
        self._disk.shutdown()
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


def _opened() -> int:
    new = not file().exists()
    handle = os.open(file(), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    if new:
        _keep_name(file().parent)
    return handle


def read(path: Path) -> Iterator[Gone | BadLine]:
    """Every record of a journal, in the order in which they were written. Raises OSError."""
    with path.open(encoding="utf-8", errors="replace") as lines:
        for number, line in enumerate(lines, start=1):
            if line.strip():
                try:
                    yield gone_from(line)
                except UnreadableLine as fault:
                    yield BadLine(number, str(fault))


def lately_of(message_ids: Collection[str]) -> list[Gone]:
    """What the last SIXTEEN_MEGABYTES of this machine's journal tell of these Message-IDs: twenty thousand letters."""
    try:
        with file().open("rb") as lines:
            lines.seek(max(0, lines.seek(0, os.SEEK_END) - SIXTEEN_MEGABYTES))
            text = lines.read()
    except OSError:
        return []
    wanted = [json.dumps(one).encode("ascii") for one in message_ids]
    found = []
    for line in text.splitlines():
        if any(one in line for one in wanted):
            # A line that a power cut tore is no proof.
            with contextlib.suppress(UnreadableLine):
                found.append(gone_from(line.decode("ascii", "replace")))
    return found


def _keep_name(folder: Path) -> None:
    """A new file's name is on the disk once its folder is."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
