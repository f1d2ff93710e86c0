"""A letter that went out, with the two secrets of its links."""

import hashlib
import html
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from html.parser import HTMLParser

import pytest
import time_machine
from django.apps import apps
from django.core.cache import cache
from django.test import Client

from service_center.book.models import Piece
from service_center.letters.models import Letter, OwnerLink, Reminder
from tests.factories import BoutiqueFactory, PieceFactory

TODAY = date(2026, 6, 5)
NOW = datetime(2026, 6, 5, 10, 0, tzinfo=UTC)
SENT = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
EXPIRES = datetime(2027, 6, 8, 8, 0, tzinfo=UTC)


@dataclass
class Sent:
    """A letter and the secrets in it."""

    letter: Letter
    page: str
    stop: str

    @property
    def address(self) -> str:
        return f"/o/{self.page}/"

    @property
    def answer_address(self) -> str:
        return f"/o/{self.page}/answer/"

    @property
    def stop_address(self) -> str:
        return f"/o/stop/{self.stop}/"


def make_link(letter: Letter, purpose: str, token: str, expires_at: datetime = EXPIRES) -> OwnerLink:
    """As reliability.md, B4, has it: only the hash of purpose and secret is kept."""
    digest = hashlib.sha256(f"{purpose}|{token}".encode()).hexdigest()
    return OwnerLink.objects.create(letter=letter, purpose=purpose, token_hash=digest, expires_at=expires_at)


def send_about(*pieces: Piece, kinds: tuple[str, ...] = ("overhaul",)) -> Sent:
    """One letter to the first piece's owner about all of them; each was bought on 2019-05-17 and has no history."""
    owner = pieces[0].owner
    assert owner is not None
    with time_machine.travel(SENT, tick=False):
        letter = Letter.objects.create(
            owner=owner,
            language=owner.language,
            planned_on=SENT.date(),
            not_before=SENT,
            state="sent",
            sent_at=SENT,
            email=owner.email,
        )
        for piece in pieces:
            for kind in kinds:
                Reminder.objects.create(
                    piece=piece,
                    kind=kind,
                    starts_on=date(2019, 5, 17),
                    step="invitation",
                    letter=letter,
                    due_on=date(2026, 5, 17) if kind == "overhaul" else date(2020, 5, 17),
                )
        page, stop = f"page-{letter.pk}-{'x' * 36}", f"stop-{letter.pk}-{'x' * 36}"
        make_link(letter, "page", page)
        make_link(letter, "stop", stop)
    return Sent(letter, page, stop)


def open_pages(client: Client, sent: Sent) -> None:
    """The button that shows a browser more than the letter says."""
    assert client.post(f"{sent.address}details/", {"open": "yes"}).status_code == 302


def words_of(client: Client, address: str) -> str:
    """What a page says, without its marks."""
    answer = client.get(address)
    assert answer.status_code == 200, answer
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split()).replace(" .", ".")


class _Filled(HTMLParser):
    """The values with which a page's fields would be sent, as a browser has them."""

    def __init__(self) -> None:
        super().__init__()
        self.values: dict[str, str] = {}
        self._within = self._textarea = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        name, value = said.get("name") or "", said.get("value") or ""
        if tag == "option" and "selected" in said:
            self.values[self._within] = value
        elif tag in {"input", "textarea", "select"}:
            self.values[name] = value
            self._within, self._textarea = name, name if tag == "textarea" else ""

    def handle_data(self, data: str) -> None:
        if self._textarea:
            self.values[self._textarea] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            # The line break behind the tag is none of the text; every other is sent as two characters.
            self.values[self._textarea] = self.values[self._textarea].removeprefix("\n").replace("\n", "\r\n")
            self._textarea = ""


def filled_in(page: str) -> dict[str, str]:
    """What an open page would send, were its button pressed."""
    read = _Filled()
    read.feed(page)
    return read.values


@pytest.fixture(autouse=True)
def _no_misses_yet() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


@pytest.fixture(autouse=True)
def today() -> Iterator[date]:
    """Friday, 5 June 2026, ten in the morning."""
    with time_machine.travel(NOW, tick=False):
        yield TODAY


@pytest.fixture
def piece(db: None) -> Piece:
    """A Skerry bought on 17 May 2019 at Harrowmere, never serviced: its overhaul was due on 17 May 2026."""
    made: Piece = PieceFactory(serial="FH21-000042", boutique=BoutiqueFactory(code="HARROW", name="Harrowmere"))
    return made


@pytest.fixture
def sent(piece: Piece) -> Sent:
    return send_about(piece)


@pytest.fixture
def snapshot(db: None) -> Callable[[], dict[str, list[tuple[object, ...]]]]:
    """Every row of every table, to compare the database before and after."""

    def take() -> dict[str, list[tuple[object, ...]]]:
        return {
            model._meta.label: list(model._base_manager.order_by("pk").values_list())
            for model in apps.get_models()
            if model._meta.managed
        }

    return take
