"""What the commands of this subject refuse, and with which exit code (outside.md)."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.management.base import CommandError
from django.db import DatabaseError

from service_center.keeping.actions import NotEmptyError, UnusableError
from service_center.keeping.databases.faults import DatabaseFault
from service_center.keeping.rules.manifest import BadName


@contextmanager
def refusing() -> Iterator[None]:
    """2: the file or the place cannot be used, and nothing was done. 1: the machine failed."""
    try:
        yield
    except (UnusableError, NotEmptyError, BadName) as fault:
        raise CommandError(str(fault), returncode=2) from fault
    except FileExistsError as fault:
        raise CommandError(f"{fault}: is there already; a backup is never written over", returncode=2) from fault
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError) as fault:
        raise CommandError(f"{fault.filename}: {fault.strerror}", returncode=2) from fault
    except DatabaseFault as fault:
        raise CommandError(str(fault), returncode=1) from fault
    except OSError as fault:
        raise CommandError(f"{fault.filename or 'the disk'}: {fault.strerror or fault}", returncode=1) from fault
    except DatabaseError as fault:
        said = str(fault).strip().splitlines()[0] if str(fault).strip() else type(fault).__name__
        raise CommandError(f"the database does not answer, or is not migrated: {said}", returncode=1) from fault
