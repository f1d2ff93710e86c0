"""The sent journal: a file beside the database in which stands what left the house, for the day of a restore.

A backup knows nothing of the letters that went out after it was made. The journal does: one line a letter, on the
disk before the database says "sent". Many senders on one machine add to one file; each machine has its own.
It also settles what a sender that died knew and could not tell the database any more (`actions/lost.py`).
"""

import contextlib
import json
import logging
import os
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from service_center.access.added_lines import add_line, opened_to_add
from service_center.letters.rules.journal import Gone, UnreadableLine, gone_from, line_of

logger = logging.getLogger(__name__)

SIXTEEN_MEGABYTES = 16 * 1024 * 1024
# The lines are read as JSON where they are wanted: to read all of them would take seconds.
NAMED = re.compile(rb'^.*"message_id": (?P<message_id>"[^"]*").*$', re.MULTILINE)


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
        self._to_come = False

    def add(self, gone: Gone, begun: str = "") -> None:
        """Write a letter down: it outlives this process at once, and the machine once it is on the disk.

        `begun`: the beginning of its line, where it was written ahead (`begun_line`).
        """
        try:
            if self._handle is None:
                self._handle = opened_to_add(file())
            self._to_come = True
            add_line(self._handle, line_of(gone, begun))
        except OSError:
            logger.exception("Letter %s went out, but is not in the sent journal", gone.going.letter)

    def bring_to_disk(self) -> None:
        """All that was added, where it is not there yet."""
        if self._handle is None or not self._to_come:
            return
        try:
            os.fdatasync(self._handle)
        except OSError:
            logger.exception("The sent journal is not on the disk")
        # Not before: a sender that is interrupted meanwhile (Ctrl-C) comes here again before it tells the database.
        self._to_come = False

    def close(self) -> None:
        """Bring it to the disk, and let the file go."""
        self.bring_to_disk()
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


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
    """What the last SIXTEEN_MEGABYTES of this machine's journal tell of these Message-IDs: twenty thousand letters.

    All of it is on the disk by then: a sender that was killed may have written a line and not brought it there, and
    the database is to say nothing that a power cut could take from the journal.
    """
    try:
        with file().open("rb") as lines:
            os.fdatasync(lines.fileno())
            lines.seek(max(0, lines.seek(0, os.SEEK_END) - SIXTEEN_MEGABYTES))
            text = lines.read()
    except OSError:
        return []
    wanted = {json.dumps(one).encode("ascii") for one in message_ids}
    found = []
    for named in NAMED.finditer(text):
        if named["message_id"] in wanted:
            # A line that a power cut tore is no proof.
            with contextlib.suppress(UnreadableLine):
                found.append(gone_from(named[0].decode("ascii", "replace")))
    return found
