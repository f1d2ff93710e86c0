"""The statement for which every letter waits: its plan is kept by PostgreSQL, and a refusal stays Django's."""

from datetime import UTC, date, datetime

import pytest
from django.db import IntegrityError, OperationalError, connection

from service_center.letters.actions import kept_plan
from service_center.letters.models import Letter
from tests.factories import OwnerFactory

pytestmark = pytest.mark.django_db

RENAMED = "UPDATE letters_letter SET reason = %(reason)s WHERE id = %(letter)s RETURNING id"
MOVED = "UPDATE letters_letter SET attempt = %(attempt)s WHERE id = %(letter)s RETURNING id"


def a_letter() -> Letter:
    day = date(2026, 3, 18)
    return Letter.objects.create(
        owner=OwnerFactory(), language="en", planned_on=day, not_before=datetime(2026, 3, 18, 8, tzinfo=UTC)
    )


def test_it_names_the_rows_it_changed() -> None:
    letter, other = a_letter(), a_letter()
    for words in ("once", "twice ’é\\ %s", ""):
        assert kept_plan.updated(RENAMED, {"reason": words, "letter": letter.pk}) == [letter.pk]
        assert Letter.objects.values_list("reason", flat=True).get(pk=letter.pk) == words
    assert kept_plan.updated(RENAMED, {"reason": "nobody", "letter": other.pk + 1000}) == []
    assert kept_plan.updated(RENAMED, {"reason": "nobody", "letter": None}) == []


def test_what_the_database_refuses_is_refused_as_elsewhere() -> None:
    letter = a_letter()
    with pytest.raises(IntegrityError):
        kept_plan.updated(MOVED, {"attempt": -1, "letter": letter.pk})


@pytest.mark.django_db(transaction=True)
def test_a_connection_that_is_opened_again_prepares_again() -> None:
    letter = a_letter()
    kept_plan.updated(RENAMED, {"reason": "before", "letter": letter.pk})
    connection.close()
    kept_plan.updated(RENAMED, {"reason": "after", "letter": letter.pk})
    assert Letter.objects.values_list("reason", flat=True).get(pk=letter.pk) == "after"


if connection.vendor == "postgresql":  # a file closes no connection

    @pytest.mark.django_db(transaction=True)
    def test_a_connection_that_the_server_closed_is_an_error_of_operation() -> None:
        letter = a_letter()
        kept_plan.updated(RENAMED, {"reason": "before", "letter": letter.pk})
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid()")
            (backend,) = cursor.fetchone()
        other = connection.copy()
        with other.cursor() as cursor:
            cursor.execute("SELECT pg_terminate_backend(%s)", [backend])
        other.close()
        with pytest.raises(OperationalError):
            kept_plan.updated(RENAMED, {"reason": "lost", "letter": letter.pk})
        connection.close()
        kept_plan.updated(RENAMED, {"reason": "after", "letter": letter.pk})
        assert Letter.objects.values_list("reason", flat=True).get(pk=letter.pk) == "after"
