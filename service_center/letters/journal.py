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
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from threading import Thread

from django.conf import settings

from service_center.access.added_lines import add_line, opened_to_add
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
        self._disk: _Disk | None = None

    def add(self, gone: Gone) -> None:
        """Write a letter down: it outlives this process at once, and the machine once `wait` returns."""
        try:
            if self._handle is None:
                self._handle = opened_to_add(file())
                self._disk = _Disk(self._handle)
            add_line(self._handle, line_of(gone))
            # The disk works while the sender talks to the mail server.
            if self._disk:
                self._disk.ask()
        except OSError:
            logger.exception("Letter %s went out, but is not in the sent journal", gone.going.letter)

    def wait(self) -> None:
        """Until all that was added is on the disk."""
        error = self._disk.answer() if self._disk else None
        if error:
            logger.error("The sent journal is not on the disk", exc_info=error)

    def close(self) -> None:
        """Wait, and let the file go."""
        self.wait()
        if self._disk:
            self._disk.close()
        if self._handle is not None:
            os.close(self._handle)
            self._handle, self._disk = None, None


class _Disk:
    """A thread that brings a file onto the disk whenever it is asked. Two plain queues: one of the pool's own futures
    for every letter would take longer to make than the line itself."""

    def __init__(self, handle: int) -> None:
        self._asked: SimpleQueue[bool] = SimpleQueue()
        self._done: SimpleQueue[OSError | None] = SimpleQueue()
        self._open = 0
        self._thread = Thread(target=self._work, args=[handle], name="journal", daemon=True)
        self._thread.start()

    def ask(self) -> None:
        """Bring it onto the disk; `answer` tells."""
        self._open += 1
        self._asked.put(True)

    def answer(self) -> OSError | None:
        """Until nothing that was asked is open. What went wrong last."""
        error = None
        while self._open:
            error = self._done.get() or error
            self._open -= 1
        return error

    def close(self) -> None:
        self._asked.put(False)
        self._thread.join()

    def _work(self, handle: int) -> None:
        while self._asked.get():
            try:
                os.fdatasync(handle)
            except OSError as error:
                self._done.put(error)
            else:
                self._done.put(None)


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
