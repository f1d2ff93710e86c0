"""What the machine that watches is told."""

import pytest
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client

from service_center.serving import views

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _a_process_that_has_just_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(views, "_up_to_date", False)


def test_a_site_with_an_up_to_date_database_is_ready(client: Client) -> None:
    assert client.get("/health/live").json() == {"live": True}
    answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (200, {"ready": True})


def test_a_site_whose_database_lacks_a_migration_is_not_ready_and_says_why(client: Client) -> None:
    MigrationRecorder.Migration.objects.filter(app="planning").latest("pk").delete()
    answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert answer.json()["ready"] is False
    assert "Migrations pending: 1" in answer.json()["reason"]


def test_the_probes_ask_for_no_sign_in_and_are_not_sent_to_https(client: Client, settings) -> None:
    settings.SECURE_SSL_REDIRECT = True
    assert client.get("/health/ready").status_code == 200
    assert client.get("/").status_code == 301


def test_a_probe_is_asked_and_changes_nothing(client: Client) -> None:
    assert client.post("/health/ready").status_code == 405
