"""A book comes in by clicking: faults in their place, then what would change, then written."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from service_center.access.rules import Role
from service_center.book.models import HistoryEntry, Piece
from service_center.exchange.rules import NAMES
from service_center.intervals.models import DueDate
from tests.exchange.books import example, replace

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
UPLOAD = 300_000  # milliseconds within which a busy machine has sent itself 300 MB


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()


def choose(page: Page, folder: Path) -> None:
    page.get_by_label("CSV files of the book").set_input_files([folder / name for name in NAMES])
    page.get_by_role("button", name="See what would change").click()


def serious(page: Page) -> list[str]:
    return [one["id"] for one in Axe().run(page).response["violations"] if one["impact"] in {"serious", "critical"}]


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (834, "dark")])
def test_faults_are_shown_then_mended_then_the_book_is_written(
    context_of: Callable[..., BrowserContext], tmp_path: Path, width: int, scheme: str
) -> None:
    page = context_of(Role.DESK, width=width, scheme=scheme).new_page()
    page.goto("/book/")
    bad = example(tmp_path / "bad")
    replace(bad / "pieces.csv", "2019-05-17", "2024-13-01")
    choose(page, bad)
    expect(page.get_by_role("heading", name="These files cannot be written yet")).to_be_visible()
    row = page.get_by_role("row", name="pieces.csv 2 sold_on")
    expect(row).to_contain_text('"2024-13-01" is not a date (YYYY-MM-DD)')
    expect(page.get_by_role("button", name="Write into the book")).to_have_count(0)
    assert serious(page) == []
    choose(page, example(tmp_path / "good"))
    expect(page.get_by_role("heading", name="What these files would change")).to_be_visible()
    assert serious(page) == []
    assert Piece.objects.count() == 0
    page.get_by_role("button", name="Write into the book").click()
    expect(page.get_by_text("The files are written into the book.")).to_be_visible()
    assert (Piece.objects.count(), HistoryEntry.objects.count()) == (8, 6)
    assert DueDate.objects.filter(piece__serial="FH21-000001").count() == 2


def test_a_file_of_300_megabytes_is_answered_with_its_name_and_the_bound(
    context_of: Callable[..., BrowserContext], tmp_path: Path
) -> None:
    with (tmp_path / "owners.csv").open("wb") as file:
        file.truncate(300_000_000)
    page = context_of(Role.DESK).new_page()
    page.goto("/book/")
    page.get_by_label("CSV files of the book").set_input_files(tmp_path / "owners.csv")
    with page.expect_response(lambda answer: answer.request.method == "POST", timeout=UPLOAD):
        page.get_by_role("button", name="See what would change").click(timeout=UPLOAD)
    said = page.get_by_role("alert")
    expect(said).to_contain_text('"owners.csv": this upload is 300 MB; a page takes at most 128 MB.')
