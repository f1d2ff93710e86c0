"""The page on which the desk brings files in: looked at first, written when it says so, the very same bytes."""

import csv
import io
import os
import resource
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from service_center.access.models import Trail
from service_center.book.models import Owner, Piece
from tests.exchange.books import EXAMPLE, HEADERS, take_in

pytestmark = pytest.mark.django_db
PAGE = "/book/"


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path


@pytest.fixture
def desk(signed_in: Callable[..., Client]) -> Client:
    return signed_in("desk")


def a_file(name: str, *rows: str) -> SimpleUploadedFile:
    stem = name.removesuffix(".csv")
    return SimpleUploadedFile(name, "\n".join([HEADERS.get(stem, "a,b"), *rows, ""]).encode(), "text/csv")


def look(client: Client, *files: SimpleUploadedFile) -> str:
    """What the page says after choosing files."""
    response = client.post(PAGE, {"deed": "look", "files": files}, follow=True)
    return response.content.decode()


def waiting(folder: Path) -> list[Path]:
    return sorted((folder / "uploads").rglob("*.csv"))


def test_the_desk_sees_what_would_change_and_then_writes_it(desk: Client, tmp_path: Path) -> None:
    take_in(EXAMPLE)
    files = [a_file("owners.csv", "O-0001,Ada Summer,ada.winter@owners.example,+44 20 7946 0123,en,GB,Europe/London,yes",
                    "O-0100,=1+1,,,,,,")]  # fmt: skip
    said = look(desk, *files)
    assert "Ada Winter" in said
    assert "Ada Summer" in said
    assert "looks like a spreadsheet formula" in said
    assert "Write into the book" in said
    assert Owner.objects.get(code="O-0001").name == "Ada Winter"
    assert [path.name for path in waiting(tmp_path)] == ["owners.csv"]
    said = desk.post(PAGE, {"deed": "write"}, follow=True).content.decode()
    assert "The files are written into the book." in said
    assert Owner.objects.get(code="O-0001").name == "Ada Summer"
    assert Owner.objects.filter(code="O-0100").exists()
    assert waiting(tmp_path) == []
    trail = Trail.objects.latest("pk")
    assert (trail.deed, trail.by.role, trail.after) == (
        "import_book", "desk", {"owners": {"added": 1, "changed": 1, "same": 0}},
    )  # fmt: skip


def test_every_fault_stands_in_a_table_by_file_line_and_column(desk: Client) -> None:
    said = look(
        desk,
        a_file("pieces.csv", "P-1,,,,2024-13-01,,,,", "P-2,,O-404,,,,,,"),
        a_file("owners.csv", "O-1,<script>alert(1)</script>,two@x.example two@y.example,,,,,"),
    )
    assert "3 faults" in said
    for file, line, column, reason in (
        ("owners.csv", 2, "email", "&quot;two@x.example two@y.example&quot; is not one e-mail address"),
        ("pieces.csv", 2, "made_on", "&quot;2024-13-01&quot; is not a date (YYYY-MM-DD)"),
        ("pieces.csv", 3, "owner", "&quot;O-404&quot; is no owner of the files or of the book"),
    ):
        assert (
            f'<th scope="row">{file}</th><td class="number">{line}</td><td class="serial">{column}</td><td>{reason}</td>'
            in said
        )
    assert "Write into the book" not in said
    desk.post(PAGE, {"deed": "write"})
    assert not Owner.objects.exists()


def test_hostile_text_is_shown_as_text(desk: Client) -> None:
    said = look(desk, a_file("owners.csv", "O-1,=<img src=x onerror=alert(1)>,,,,,,"))
    assert "<img" not in said
    assert "&lt;img src=x" in said


def test_a_button_pressed_twice_writes_once(desk: Client) -> None:
    look(desk, a_file("owners.csv", "O-1,Ada Winter,,,,,,"))
    desk.post(PAGE, {"deed": "write"})
    said = desk.post(PAGE, {"deed": "write"}, follow=True).content.decode()
    assert "no longer here" in said
    assert Trail.objects.filter(deed="import_book").count() == 1


def test_files_changed_behind_the_page_are_not_written(desk: Client, tmp_path: Path) -> None:
    look(desk, a_file("owners.csv", "O-1,Ada Winter,,,,,,"))
    (path,) = waiting(tmp_path)
    path.write_text(path.read_text().replace("Ada", "Eve"))
    assert "no longer here" in desk.post(PAGE, {"deed": "write"}, follow=True).content.decode()
    assert not Owner.objects.exists()


def test_files_an_hour_old_are_not_written_and_go(desk: Client, tmp_path: Path) -> None:
    look(desk, a_file("owners.csv", "O-1,Ada Winter,,,,,,"))
    (path,) = waiting(tmp_path)
    os.utime(path.parent, (time.time() - 3_700, time.time() - 3_700))
    assert "no longer here" in desk.post(PAGE, {"deed": "write"}, follow=True).content.decode()
    assert not Owner.objects.exists()
    look(desk, a_file("owners.csv", "O-2,Bo Winter,,,,,,"))
    assert len(waiting(tmp_path)) == 1


def test_nobody_writes_what_another_uploaded(desk: Client, signed_in: Callable[..., Client]) -> None:
    look(desk, a_file("owners.csv", "O-1,Ada Winter,,,,,,"))
    other = signed_in("manager")
    assert "Ada Winter" not in other.get(PAGE).content.decode()
    other.post(PAGE, {"deed": "write"})
    assert not Owner.objects.exists()


def test_discarded_files_go(desk: Client, tmp_path: Path) -> None:
    look(desk, a_file("owners.csv", "O-1,Ada Winter,,,,,,"))
    assert "discarded" in desk.post(PAGE, {"deed": "discard"}, follow=True).content.decode()
    assert waiting(tmp_path) == []


def test_uploads_are_readable_by_the_site_alone(desk: Client, tmp_path: Path) -> None:
    look(desk, a_file("owners.csv", "O-1,Ada Winter,,,,,,"))
    (path,) = waiting(tmp_path)
    assert path.parent.stat().st_mode & 0o777 == 0o700


def test_a_book_that_changed_meanwhile_is_looked_at_again(desk: Client, signed_in: Callable[..., Client]) -> None:
    look(desk, a_file("history.csv", "E-1,P-1,2024-03-02,overhaul,,,own,,"), a_file("pieces.csv", "P-1,,,,,,,,"))
    other = signed_in("manager")
    look(other, a_file("history.csv", "E-1,P-1,2024-03-02,repair,,,own,,"), a_file("pieces.csv", "P-1,,,,,,,,"))
    other.post(PAGE, {"deed": "write"})
    said = desk.post(PAGE, {"deed": "write"}, follow=True).content.decode()
    assert "The book has changed since you looked" in said
    assert "history is never edited" in said


@pytest.mark.parametrize("name", ["orders.csv", "owners.xlsx", "../../owners", "OWNERS.CSV", "owners.csv.exe"])
def test_a_file_by_another_name_is_refused_and_none_is_kept(desk: Client, tmp_path: Path, name: str) -> None:
    response = desk.post(PAGE, {"deed": "look", "files": [a_file("owners.csv"), SimpleUploadedFile(name, b"a")]})
    assert response.status_code == 400
    assert "is not one of a book&#x27;s files" in response.content.decode()
    assert waiting(tmp_path) == []


def test_the_same_name_twice_is_refused(desk: Client) -> None:
    response = desk.post(PAGE, {"deed": "look", "files": [a_file("owners.csv"), a_file("owners.csv")]})
    assert response.status_code == 400
    assert "was chosen twice" in response.content.decode()


def test_no_file_is_no_upload(desk: Client) -> None:
    response = desk.post(PAGE, {"deed": "look"})
    assert response.status_code == 400
    assert "Choose at least one file." in response.content.decode()


def test_a_post_without_the_page_s_token_is_refused(desk: Client) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = desk.cookies
    assert strict.post(PAGE, {"deed": "look", "files": [a_file("owners.csv")]}).status_code == 403
    assert strict.post(reverse("exchange:export_book")).status_code == 403


class Upload(io.RawIOBase):
    """A form with one file of some size, made as it is read: nobody holds 300 MB."""

    def __init__(self, name: str, size: int) -> None:
        head = f'--edge\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\nContent-Type: text/csv\r\n\r\n'
        self._parts: Iterator[bytes] = iter(self._made(head.encode(), size))
        self.size = len(head) + size + len("\r\n--edge--\r\n")
        self.handed_out = 0
        self._rest = b""

    @staticmethod
    def _made(head: bytes, size: int) -> Iterator[bytes]:
        yield head
        block = b"O-1,Ada Winter,,,,,,\n" * 3_000
        for _ in range(size // len(block)):
            yield block
        yield block[: size % len(block)]
        yield b"\r\n--edge--\r\n"

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        while len(self._rest) < size and (part := next(self._parts, b"")):
            self._rest += part
        data, self._rest = self._rest[:size], self._rest[size:]
        self.handed_out += len(data)
        return data


def send(client: Client, upload: Upload) -> Any:
    return client.request(
        **{
            "REQUEST_METHOD": "POST", "PATH_INFO": PAGE, "CONTENT_TYPE": "multipart/form-data; boundary=edge",
            "CONTENT_LENGTH": str(upload.size), "wsgi.input": upload,
        }
    )  # fmt: skip


@pytest.mark.parametrize(("megabytes", "said"), [(300, "this upload is 300 MB"), (100, "is too large")])
def test_a_file_too_large_is_refused_by_name_soon_and_in_little_memory(
    desk: Client, tmp_path: Path, megabytes: int, said: str
) -> None:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    upload = Upload("owners.csv", megabytes * 1_000_000)
    began = time.process_time()
    response = send(desk, upload)
    seconds = time.process_time() - began
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert response.status_code == 400
    assert f"&quot;owners.csv&quot;{'' if said.startswith('is') else ':'} {said}" in response.content.decode()
    assert seconds < 5
    assert grown < 32_000  # KiB
    # Read past to its end, so that the browser gets its answer.
    assert upload.handed_out == upload.size
    assert waiting(tmp_path) == []


def test_the_book_goes_out_as_an_archive_that_comes_in_again(desk: Client, tmp_path: Path) -> None:
    take_in(EXAMPLE)
    response = desk.post(reverse("exchange:export_book"))
    assert response["Content-Disposition"].startswith('attachment; filename="book-')
    with zipfile.ZipFile(io.BytesIO(b"".join(response.streaming_content))) as archive:
        archive.extractall(tmp_path / "out")
    assert not take_in(tmp_path / "out").written
    with (tmp_path / "out" / "pieces.csv").open(encoding="utf-8", newline="") as text:
        assert len(list(csv.reader(text))) == 1 + Piece.objects.count()
    assert Trail.objects.latest("pk").deed == "export_book"


def test_taking_the_book_away_is_a_deed_not_a_look(desk: Client) -> None:
    assert desk.get(reverse("exchange:export_book")).status_code == 405


@time_machine.travel("2026-03-01T10:00:00Z", tick=False)
def test_the_page_says_what_was_written_last(desk: Client) -> None:
    take_in(EXAMPLE)
    said = desk.get(PAGE).content.decode()
    assert "1 March 2026" in said
    assert '<th scope="row">history.csv</th><td class="number">6</td>' in said
