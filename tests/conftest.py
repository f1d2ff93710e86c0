"""What every test stands on. Which database the suite runs on is set by the wrapper (tests/servers.py), before Django."""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.commands import flush
from django.db import connection
from django.test import Client
from hypothesis import settings as hypothesis_settings

from tests.factories import BoutiqueFactory, StaffFactory
from tests.letters.sink import MailSink

# A busy machine is no fault of an example; a failing one prints how to run it again.
hypothesis_settings.register_profile("suite", deadline=None, print_blob=True)
hypothesis_settings.load_profile("suite")


@pytest.fixture(scope="session", autouse=True)
def _the_database_is_the_one_that_was_asked_for() -> None:
    expected = os.environ.get("EXPECT_DATABASE")
    assert expected is None or connection.vendor == expected


@pytest.fixture(scope="session", autouse=True)
def _flush_passes_the_guards_of_facts() -> Iterator[None]:
    """Emptying the database between tests deletes row by row on SQLite, which the facts' triggers rightly refuse.

    They are taken down for the flush alone and put back as they were written.
    """
    original = flush.Command.handle

    def handle(self: flush.Command, **options: Any) -> None:
        if connection.vendor != "sqlite":
            original(self, **options)
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            guards = cursor.fetchall()
            for name, _sql in guards:
                cursor.execute(f"DROP TRIGGER {name}")
            try:
                original(self, **options)
            finally:
                for _name, sql in guards:
                    cursor.execute(sql)

    flush.Command.handle = handle  # type: ignore[method-assign]
    yield
    flush.Command.handle = original  # type: ignore[method-assign]


@pytest.fixture(scope="session", autouse=True)
def _pages_find_their_styles(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Pages name styles by their content's hash, as in service; each test process gathers its own."""
    settings.STATIC_ROOT = tmp_path_factory.mktemp("static")
    call_command("collectstatic", interactive=False, verbosity=0)


@pytest.fixture(scope="session", autouse=True)
def _files_go_into_a_folder_of_the_test(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Photographs of tests lie where nobody else's do; each test process has its own folder."""
    storages = {**settings.STORAGES, "default": dict(settings.STORAGES["default"])}
    storages["default"]["OPTIONS"] = {"location": str(tmp_path_factory.mktemp("files"))}
    settings.STORAGES = storages


@pytest.fixture
def signed_in(db: None) -> Callable[..., Client]:
    """A browser in which a member of staff of that role is signed in."""

    def sign_in(role: str, boutique: str = "") -> Client:
        if role == "boutique" and not boutique:
            boutique = BoutiqueFactory().code
        client = Client()
        client.force_login(StaffFactory(role=role, boutique=boutique))
        return client

    return sign_in


@pytest.fixture
def sink(settings: Any) -> Iterator[MailSink]:
    """The house's mail server, which takes everything and keeps it."""
    with MailSink() as server:
        settings.MAIL_CONFIGURED = True
        settings.EMAIL_HOST, settings.EMAIL_PORT = server.host, server.port
        settings.EMAIL_TIMEOUT = settings.MAIL_DOT_SECONDS = 5
        yield server
