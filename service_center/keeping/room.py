"""Room for copies of a book while they are worked on: a folder that is gone afterwards.

Where a process was killed, the next one that needs room in the same place clears away what it left: these copies hold
what is a person's own.
"""

import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PREFIX = ".keeping-"


@contextmanager
def room_in(parent: Path) -> Iterator[Path]:
    """A new folder, for this user alone, until the block ends. Raises OSError."""
    _clear_away(parent)
    folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=parent))
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        os.close(handle)


def _clear_away(parent: Path) -> None:
    """Folders that nobody holds any more. The kernel lets go of a lock when its process ends, however it ends."""
    for left in parent.glob(f"{PREFIX}*"):
        with suppress(OSError):
            handle = os.open(left, os.O_RDONLY)
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                shutil.rmtree(left)
            finally:
                os.close(handle)
