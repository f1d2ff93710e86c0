"""Pieces for which a round wrote nothing: as many as a book has, kept out of memory."""

import tempfile
import weakref
from collections.abc import Iterator

from service_center.letters.rules.deciding import NotWritten, Reason

IN_MEMORY = 4_000_000  # bytes; about a hundred thousand pieces


class NotWrittenSpool:
    """A list that is written once and read as often as wanted; the larger part of a large one is on disk."""

    def __init__(self) -> None:
        # Closed with the spool itself: a result may be read long after its round.
        self._lines = tempfile.SpooledTemporaryFile(  # noqa: SIM115
            max_size=IN_MEMORY, mode="w+", encoding="utf-8", newline="\n"
        )
        weakref.finalize(self, self._lines.close)
        self._count = 0

    def add(self, one: NotWritten) -> None:
        self._lines.write(f"{one.reason.value}\t{one.serial}\n")
        self._count += 1

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[NotWritten]:
        self._lines.seek(0)
        for line in self._lines:
            reason, _tab, serial = line.rstrip("\n").partition("\t")
            yield NotWritten(serial, Reason(reason))
