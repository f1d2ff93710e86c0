"""The one door through which what facts hold of a person can be emptied (GDPR, Art. 17).

Tables of facts refuse every change (insert_only.py). Some of their columns hold a person's own words, name or address;
`insert_only.erasable` names them. Those columns alone may change, and only while a row stands in the door's table. The
row is written and taken away inside one transaction, so that no other transaction ever sees the door open.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction

from service_center.access.models import ErasureDoor


@contextmanager
def door_open() -> Iterator[None]:
    """One transaction in which the erasable columns of facts may be emptied. It is shut again, or nothing was done."""
    with transaction.atomic():
        door = ErasureDoor.objects.create()
        yield
        door.delete()
