"""Files of the house to which lines are only added: a journal beside the database, by many processes at once."""

import errno
import os
from pathlib import Path


def opened_to_add(path: Path) -> int:
    """A handle at the end of the file, which is made where it is not there, for the house's eyes only. Raises OSError."""
    new = not path.exists()
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    if new:
        _keep_name(path.parent)
    return handle


def add_line(handle: int, line: str) -> None:
    """Add a line of ASCII, whole: it outlives this process at once. Raises OSError, also where a part of it had room."""
    # It begins with an end of line, so that it stands alone even behind one that a power cut or a full disk tore.
    record = f"\n{line}\n".encode("ascii")
    if os.write(handle, record) < len(record):
        raise OSError(errno.ENOSPC, "the disk took only a part of the line")


def _keep_name(folder: Path) -> None:
    """A new file's name is on the disk once its folder is."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
