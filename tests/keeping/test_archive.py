"""The one file of a backup: what may stand in it, and that no byte of it changes unseen."""

import io
import random
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service_center.keeping import archive
from service_center.keeping.rules.manifest import (
    BadName,
    Book,
    Contents,
    Manifest,
    NotAManifest,
    checked_name,
    differences,
    manifest_from,
    text_of,
)
from tests.faults.damage import damaged

CONTENTS = Contents(("book.0001_initial",), {"book_owner": 2}, Book({"owners": 2}, "a" * 64, "b" * 64))


def source(content: bytes) -> Callable[[int], bytes]:
    return io.BytesIO(content).read


def written(path: Path, **files: bytes) -> Manifest:
    """A backup with a database and settings of a few bytes, and photographs."""
    with path.open("w+b") as file:
        writing = archive.Writing(file)
        writing.add("database.sqlite3", source(b"a database" * 50))
        writing.add("settings.json", source(b"{}"))
        for name, content in files.items():
            writing.add(f"files/photographs/{name}.jpg", source(content))
        manifest = Manifest(
            made_at=datetime(2026, 6, 5, 2, tzinfo=UTC),
            version="0.1.0",
            house="Fernhollow",
            database="sqlite",
            contents=CONTENTS,
            members=dict(writing.members),
        )
        writing.add_text("manifest.json", text_of(manifest))
        writing.close()
        archive.seal(file)
    return manifest


def test_what_was_written_is_read_and_any_program_opens_it(tmp_path: Path) -> None:
    file = tmp_path / "house.zip"
    manifest = written(file, dial=b"a dial")
    with archive.opened(file) as backup:
        assert backup.manifest == manifest
        parts: list[bytes] = []
        backup.read("files/photographs/dial.jpg", parts.append)
        assert b"".join(parts) == b"a dial"
    with zipfile.ZipFile(file) as whole:
        assert whole.testzip() is None
        assert whole.read("files/photographs/dial.jpg") == b"a dial"


def test_every_single_byte_counts(tmp_path: Path) -> None:
    """Not one place in the file, be it a date in the archive's directory, can change unseen."""
    file, other = tmp_path / "house.zip", tmp_path / "other.zip"
    written(file)
    whole = file.read_bytes()
    for place in range(len(whole)):
        other.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        with pytest.raises(archive.DamagedError), archive.opened(other):
            pass


def test_whatever_is_changed_or_cut_off_is_refused_with_a_reason(tmp_path: Path) -> None:
    file, other, chance = tmp_path / "house.zip", tmp_path / "other.zip", random.Random(20260605)
    written(file, dial=chance.randbytes(3_000))
    for what, content in damaged(file.read_bytes(), chance, flips=100, cuts=100):
        other.write_bytes(content)
        with (
            pytest.raises(archive.DamagedError, match=r"other\.zip: it (was changed|does not end|is no backup)"),
            archive.opened(other),
        ):
            pytest.fail(what)


def test_bytes_behind_its_end_are_seen(tmp_path: Path) -> None:
    file = tmp_path / "house.zip"
    written(file)
    file.write_bytes(file.read_bytes() + b"\n")
    with pytest.raises(archive.DamagedError), archive.opened(file):
        pass


@pytest.mark.parametrize(
    "name",
    [
        "files/photographs/ab/abc-full.jpg",
        "files/receipt 7.pdf",
        "database.dump",
        "journals/erased.journal",
    ],
)
def test_names_of_a_backup(name: str) -> None:
    assert checked_name(name) == name


@pytest.mark.parametrize(
    "name",
    [
        "",
        "/etc/passwd",
        "files/../secret_key",
        "files/a/../../secret_key",
        "../files/a",
        "files/",
        "files//a",
        "files/./a",
        "files/a\\..\\b",
        "files/a\x00b",
        "files/a\nb",
        "secret_key",
        "journals/other.journal",
        "files/" + "a" * 500,
    ],
)
def test_names_that_are_never_written_anywhere(name: str) -> None:
    with pytest.raises(BadName):
        checked_name(name)


def sealed(path: Path, files: dict[str, bytes], *, link: str = "") -> Path:
    """A zip archive of anybody's, with a checksum as it should be."""
    with path.open("w+b") as file:
        with zipfile.ZipFile(file, "w") as whole:
            for name, content in files.items():
                info = zipfile.ZipInfo(name)
                if name == link:
                    info.external_attr = 0o120777 << 16
                whole.writestr(info, content)
            whole.comment = b"sha256:" + b"0" * 64
        archive.seal(file)
    return path


def test_an_archive_that_leads_out_of_its_folder_is_not_opened(tmp_path: Path) -> None:
    file = sealed(tmp_path / "a.zip", {"manifest.json": b"{}", "files/../../secret_key": b"known"})
    with pytest.raises(archive.DamagedError, match="leads out of its folder"), archive.opened(file):
        pass


def test_a_link_in_an_archive_is_only_a_file_with_its_words(tmp_path: Path) -> None:
    written(tmp_path / "house.zip", dial=b"/etc/passwd")
    with zipfile.ZipFile(tmp_path / "house.zip") as whole:
        files = {name: whole.read(name) for name in whole.namelist()}
    file = sealed(tmp_path / "a.zip", files, link="files/photographs/dial.jpg")
    parts: list[bytes] = []
    with archive.opened(file) as backup:
        backup.read("files/photographs/dial.jpg", parts.append)
    assert parts == [b"/etc/passwd"]


def test_what_is_not_on_the_list_or_is_longer_than_it_says_is_refused(tmp_path: Path) -> None:
    written(tmp_path / "house.zip", dial=b"a dial")
    with zipfile.ZipFile(tmp_path / "house.zip") as whole:
        files = {name: whole.read(name) for name in whole.namelist()}
    more = sealed(tmp_path / "more.zip", {**files, "files/other.jpg": b"other"})
    with pytest.raises(archive.DamagedError, match=r"other\.jpg is listed and not in it"), archive.opened(more):
        pass
    long = sealed(tmp_path / "long.zip", {**files, "files/photographs/dial.jpg": b"a dial and a bomb"})
    with archive.opened(long) as backup, pytest.raises(archive.DamagedError, match="not what the list says"):
        backup.read("files/photographs/dial.jpg", lambda _part: None)


@pytest.mark.parametrize("text", [b"", b"[]", b"{}", b"null", b'{"format": 2}', b"\xff", b'{"format": 1, "book": 3}'])
def test_lists_that_are_none(text: bytes) -> None:
    with pytest.raises(NotAManifest):
        manifest_from(text)


def test_what_differs_is_said_table_by_table() -> None:
    found = Contents(("book.0002_more",), {"book_owner": 1, "other": 5}, CONTENTS.book)
    assert differences(CONTENTS, CONTENTS) == []
    assert differences(CONTENTS, found) == [
        "migrations: book.0001_initial lacking, book.0002_more too many",
        "book_owner: 1 rows, and the list says 2 rows",
        "other: 5 rows, and the list says no such table",
    ]
