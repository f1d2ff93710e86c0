"""What goes out comes in again as the same book, whatever stands in it."""

import csv
import re
import shutil
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service_center.exchange.actions import export_book
from service_center.exchange.rules import FILES
from service_center.exchange.writing_files import FolderInUseError
from service_center.intervals.models import DueDate
from tests.exchange.books import EXAMPLE, faults, take_in
from tests.factories import HistoryEntryFactory, OwnerFactory

pytestmark = pytest.mark.django_db


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_the_example_book_goes_out_and_comes_in_as_the_same_book(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    export_book(tmp_path)
    again = take_in(tmp_path)
    assert (faults(again), again.written) == ([], False)
    assert sorted(contents(tmp_path)) == sorted(file.name for file in FILES)


def test_a_house_without_rules_of_its_own_has_no_rules_file(tmp_path: Path) -> None:
    OwnerFactory()
    export_book(tmp_path)
    assert not (tmp_path / "rules.csv").exists()
    assert (tmp_path / "owners.csv").exists()


def test_a_voided_entry_stays_behind_and_the_due_dates_are_the_same(tmp_path: Path) -> None:
    wrong = HistoryEntryFactory(code="E1", done_on=date(2025, 1, 1), kind="overhaul")
    HistoryEntryFactory(
        code="E2", piece=wrong.piece, done_on=date(2025, 1, 1), kind="strap", tightness="not_tested",
        case_opened=False, voids=wrong,
    )  # fmt: skip
    export_book(tmp_path)
    assert [line.split(",")[0] for line in (tmp_path / "history.csv").read_text().splitlines()] == ["entry", "E2"]
    assert not take_in(tmp_path).written


# --- any book at all -----------------------------------------------------------------------------------------

NO_CONTROL = st.characters(exclude_categories=["Cc", "Cs"])
HARD = st.sampled_from(["=1+1", "a,b;c", '"', "  x  ", "'", "日本語 עברית 🕰", "\ufeffmark", "a\u2028b", "ﷺ"])
TEXT = st.one_of(st.text(NO_CONTROL, max_size=30), HARD)
NOTE = st.one_of(
    TEXT,
    st.text(st.one_of(NO_CONTROL, st.sampled_from('\n\r\t",;')), max_size=40),
    st.sampled_from(["\r", "\n", '""\n"']),
)
KEY = st.text(NO_CONTROL, min_size=1, max_size=20).map(str.strip).filter(bool)
DAY = st.dates(date(1800, 1, 1), date(2199, 12, 31))
HUNDREDTHS = st.integers(100, 18_000).map(lambda n: f"{n // 100}.{n % 100:02d}")


def optional(values: st.SearchStrategy[Any]) -> st.SearchStrategy[str]:
    return st.one_of(st.just(""), values.map(str))


def words(*some: str) -> st.SearchStrategy[str]:
    return st.sampled_from(["", *some])


YES_NO = words("yes", "no")


@st.composite
def books(draw: st.DrawFn) -> dict[str, list[list[str]]]:
    """A book as rows of files, every reference known, every cell that may be unknown unknown now and then."""
    keys = {stem: draw(st.lists(KEY, unique=True, max_size=4)) for stem in
            ("calibres", "models", "boutiques", "owners", "pieces", "history")}  # fmt: skip
    if not keys["pieces"]:
        keys["history"] = []

    def one_of(stem: str) -> str:
        return draw(st.sampled_from(["", *keys[stem]]))

    def rows(stem: str, *cells: Any) -> list[list[str]]:
        return [[key, *(cell(stem) if callable(cell) else draw(cell) for cell in cells)] for key in keys[stem]]

    return {
        "calibres": rows("calibres", words("hand", "automatic", "quartz"), optional(st.integers(1, 10_000_000)),
                         optional(HUNDREDTHS), optional(HUNDREDTHS), words("simple", "complicated")),
        "models": rows("models", TEXT, lambda _: one_of("calibres"), optional(HUNDREDTHS), YES_NO, TEXT),
        "boutiques": rows("boutiques", TEXT, words("CH", "JP"), words("Asia/Tokyo", "UTC")),
        "owners": rows("owners", TEXT, words("ada@owners.example", "bo@münchen.example"), TEXT, words("en", "zh-Hant"),
                       words("CH"), words("Europe/Zurich"), YES_NO),
        "pieces": rows("pieces", lambda _: one_of("models"), lambda _: one_of("owners"), lambda _: one_of("boutiques"),
                       optional(DAY), optional(DAY), words("everyday", "in_water"), optional(DAY),
                       words("in_use", "lost", "stolen", "retired")),
        "history": rows("history", lambda _: draw(st.sampled_from(keys["pieces"])), DAY.map(str),
                        st.sampled_from(["overhaul", "repair", "tightness_check", "battery", "strap"]), YES_NO,
                        words("passed", "failed", "not_tested"), words("own", "outside"), YES_NO, NOTE),
    }  # fmt: skip


def put_down(book: dict[str, list[list[str]]], folder: Path, delimiter: str) -> None:
    for file in FILES:
        if file.stem in book:
            with (folder / file.name).open("w", encoding="utf-8", newline="") as out:
                writer = csv.writer(out, delimiter=delimiter)
                writer.writerow([column.name for column in file.columns])
                writer.writerows(book[file.stem])


def cells(folder: Path, stem: str) -> list[list[str]]:
    with (folder / f"{stem}.csv").open(encoding="utf-8", newline="") as text:
        return sorted(list(csv.reader(text))[1:])


def plain(rows: list[list[str]]) -> list[list[str]]:
    """Decimals without noise, as an export writes them."""
    return sorted(
        [cell.rstrip("0").rstrip(".") if re.fullmatch(r"[0-9]+\.[0-9]{2}", cell) else cell for cell in row]
        for row in rows
    )


@given(book=books(), delimiter=st.sampled_from(",;"))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_book_comes_in_goes_out_and_comes_in_again_as_the_same_book(
    book: dict[str, list[list[str]]], delimiter: str
) -> None:
    with tempfile.TemporaryDirectory() as first, tempfile.TemporaryDirectory() as second:
        put_down(book, Path(first), delimiter)
        # Facts cannot be taken away again: each example is undone as a whole.
        with transaction.atomic():
            result = take_in(Path(first))
            assert faults(result) == []
            export_book(Path(second))
            due = due_dates()
            again = take_in(Path(second))
            assert (faults(again), again.written) == ([], False)
            transaction.set_rollback(True)
        for stem in ("boutiques", "owners", "pieces", "history"):
            assert cells(Path(second), stem) == sorted(book[stem])
        for stem in ("calibres", "models"):
            assert plain(cells(Path(second), stem)) == plain(book[stem])
        with transaction.atomic(), tempfile.TemporaryDirectory() as third:
            take_in(Path(second))
            export_book(Path(third))
            assert contents(Path(third)) == contents(Path(second))
            assert due_dates() == due
            transaction.set_rollback(True)


def due_dates() -> list[tuple[Any, ...]]:
    return sorted(
        DueDate.objects.values_list("piece__serial", "kind", "starts_on", "due_on", "owed_entry__code", "held"),
        key=repr,
    )


def test_an_export_leaves_another_books_files_alone_unless_told(tmp_path: Path) -> None:
    take_in(EXAMPLE)
    (tmp_path / "owners.csv").write_text("mine")
    (tmp_path / "rules.csv").write_text("mine")
    (tmp_path / "notes.txt").write_text("mine")
    before = contents(tmp_path)
    with pytest.raises(FolderInUseError, match=r"already holds owners\.csv, rules\.csv"):
        export_book(tmp_path)
    assert contents(tmp_path) == before
    export_book(tmp_path, overwrite=True)
    assert not take_in(tmp_path).written
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_stale_rules_file_does_not_outlive_the_houses_rules(tmp_path: Path) -> None:
    OwnerFactory()
    shutil.copy(EXAMPLE / "rules.csv", tmp_path)
    export_book(tmp_path, overwrite=True)
    assert not (tmp_path / "rules.csv").exists()


def test_an_export_that_fails_leaves_the_folder_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    take_in(EXAMPLE)
    export_book(tmp_path)
    before = contents(tmp_path)

    def full_disk(_handle: int) -> None:
        raise OSError("No space left on device")

    monkeypatch.setattr("service_center.exchange.writing_files.os.fsync", full_disk)
    with pytest.raises(OSError, match="No space"):
        export_book(tmp_path, overwrite=True)
    assert contents(tmp_path) == before
