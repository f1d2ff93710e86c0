"""Facts of the book are added, never changed."""

import pytest
from django.db import DatabaseError, transaction

from service_center.book.models import HistoryEntry
from tests.factories import HistoryEntryFactory


@pytest.mark.django_db
def test_history_is_never_edited_and_never_deleted() -> None:
    entry = HistoryEntryFactory()
    with pytest.raises(DatabaseError, match="holds facts"), transaction.atomic():
        HistoryEntry.objects.filter(pk=entry.pk).update(note="changed")
    with pytest.raises(DatabaseError, match="holds facts"), transaction.atomic():
        HistoryEntry.objects.filter(pk=entry.pk).delete()
