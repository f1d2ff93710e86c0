"""Reading a file of measurements for a command: what is wrong with it goes to stderr, a line a fault (exit 2)."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from django.core.management.base import CommandError, OutputWrapper

from service_center.measurements.rules.files import BadFileError

Read = TypeVar("Read")


def from_file(file: Path, read: Callable[[bytes, str], Read], stderr: OutputWrapper) -> Read:
    """What `read` makes of the file's bytes and name. Ends the command where it cannot be used."""
    try:
        return read(file.read_bytes(), str(file))
    except OSError as error:
        raise CommandError(f"{file}: {error.strerror}", returncode=2) from error
    except BadFileError as bad:
        for fault in bad.faults:
            stderr.write(str(fault))
        sys.exit(2)
