"""Room for copies of a book while they are worked on: a folder that is gone afterwards.

Where a process was killed, the next one that needs room in the same place clears away what it left: these copies hold
what is a person's own.
"""

import errno
import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PREFIX = ".keeping-"
# What a disk says on which a file has one name only, such as a stick that other systems read too.
NO_SECOND_NAMES = {errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.EMLINK}


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


def give_name(beside: Path, target: Path) -> None:
    """Let a finished file have its name, never in the place of another. Raises FileExistsError, or OSError."""
    try:
        # A second name for the file: a rename would overwrite what came there meanwhile.
        os.link(beside, target)
    except FileExistsError as error:
        raise FileExistsError(target) from error
    except OSError as error:
        if error.errno not in NO_SECOND_NAMES:
            raise
        if target.exists():
            raise FileExistsError(target) from error
        beside.rename(target)
    handle = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
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
