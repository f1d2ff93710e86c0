"""What staff read when the database takes nothing, and that what they typed comes back to them."""

import errno
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html.parser import HTMLParser

import pytest
from django.db import OperationalError, connection
from django.http import HttpResponseBase
from django.test import Client, RequestFactory
from django.urls import reverse

from service_center.access.failing import fault_page
from tests.factories import PieceFactory

pytestmark = pytest.mark.django_db
SignIn = Callable[..., Client]
SAID = {"asked": ["strap", "overhaul"], "owner_says": 'It stops at "night", <always>.', "password": "not to be shown"}


@contextmanager
def nothing_is_written(table: str) -> Iterator[None]:
    """The database refuses: PostgreSQL with the very code of a full disk (53100), SQLite any write."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA query_only = ON")
        else:
            cursor.execute(
                "CREATE FUNCTION pg_temp.full() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RAISE disk_full; END'"
            )
            cursor.execute(f"CREATE TRIGGER no_room BEFORE INSERT ON {table} EXECUTE FUNCTION pg_temp.full()")
        try:
            yield
        finally:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA query_only = OFF")
            else:
                cursor.execute(f"DROP TRIGGER no_room ON {table}")


class Typed(HTMLParser):
    """What a page's hidden fields give back."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.fields: list[tuple[str, str]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        about = dict(attrs)
        if tag == "input":
            self.fields.append((about["name"] or "", about.get("value") or ""))


@pytest.fixture
def ida(signed_in: SignIn) -> Client:
    client = signed_in("desk")
    client.raise_request_exception = False  # as a browser
    return client


def begun(client: Client) -> str:
    """The first step of a drop-off."""
    client.post(reverse("intake:drop_off", args=[PieceFactory().pk]))
    with connection.cursor() as cursor:
        cursor.execute("SELECT max(id) FROM intake_draft")
        return reverse("intake:step", args=[cursor.fetchone()[0], "story"])


def test_what_was_typed_comes_back_and_is_sent_again_from_the_page(ida: Client) -> None:
    story = begun(ida)
    with nothing_is_written("intake_draftstep"):
        answer = ida.post(story, SAID)
    page = answer.content.decode()
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "60")
    assert f'action="{story}"' in page
    given_back = Typed(page).fields
    assert [value for name, value in given_back if name == "asked"] == SAID["asked"]
    assert dict(given_back)["owner_says"] == SAID["owner_says"]
    assert "not to be shown" not in page
    again = ida.post(story, {"owner_says": dict(given_back)["owner_says"], "asked": SAID["asked"]})
    assert again.status_code < 500


def page_of(error: Exception, path: str, *, rf: RequestFactory) -> HttpResponseBase:
    """The page of an error that came before anything of the request was looked at."""
    try:
        raise error
    except type(error):
        return fault_page(rf.post(path, SAID))


def test_a_form_whose_token_nobody_has_looked_at_is_not_given_back(rf: RequestFactory) -> None:
    page = page_of(OperationalError("the database is away"), "/letters/held/go-on/", rf=rf)
    assert page.status_code == 503
    assert "always" not in str(page.content)
    assert "your browser has kept what you typed" in str(page.content)


@pytest.mark.parametrize(
    ("error", "path", "status"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "/letters/", 503),
        (OSError(errno.ENOENT, "No such file"), "/letters/", 500),
        (ValueError("ours"), "/letters/", 500),
        (OperationalError("the database is away"), "/o/" + "p" * 43 + "/", 500),
        (OperationalError("the database is away"), "/nowhere/", 500),
    ],
)
def test_other_faults_and_owners_have_the_page_that_is_for_everybody(
    error: Exception, path: str, status: int, rf: RequestFactory
) -> None:
    assert page_of(error, path, rf=rf).status_code == status
