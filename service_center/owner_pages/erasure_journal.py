"""The erasure journal: a file beside the database in which stands who was erased, for the day of a restore.

A backup knows nothing of the owners who were erased after it was made. The journal does: one line an erasure, on the
disk before the database says "erased". Each machine has its own. It holds no name and no address (rules/erased.py).
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from service_center.access.added_lines import add_line, opened_to_add
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
    handle = opened_to_add(file())
    try:
        add_line(handle, line_of(erased))
        os.fsync(handle)
    finally:
        os.close(handle)


def read(path: Path) -> Iterator[Erased | BadLine]:
    """Every record of a journal, in the order in which they were written. Raises OSError."""
    with path.open(encoding="utf-8", errors="replace") as lines:
        for number, line in enumerate(lines, start=1):
            if line.strip():
                try:
                    yield erased_from(line)
                except UnreadableErasure as fault:
                    yield BadLine(number, str(fault))
