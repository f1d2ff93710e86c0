"""An old owners.csv does not undo what owners corrected since; a newer word of the house does (design/outside.md)."""

from datetime import UTC, date, datetime
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from service_center.book.models import Owner
from service_center.exchange.actions import ImportResult, import_book
from service_center.letters.models import Letter
from service_center.owner_pages.actions import Details, correct_details, stop_letters

DAY, NOW = date(2026, 6, 5), datetime(2026, 6, 5, 10, tzinfo=UTC)
HEAD = "owner,name,email,phone,language,country,time_zone,letters\n"
ROW = "O-1,Ada Winter,ada@owners.example,{phone},en,GB,Europe/London,{letters}\n"


def brought_in(folder: Path, phone: str = "+44 1", letters: str = "yes", *, dry_run: bool = False) -> ImportResult:
    (folder / "owners.csv").write_text(HEAD + ROW.format(phone=phone, letters=letters))
    return import_book(folder, dry_run=dry_run, by=None, as_of=DAY)


@pytest.fixture
def letter(db: None, tmp_path: Path) -> Letter:
    """To an owner who came in by a file, and corrected their telephone since."""
    brought_in(tmp_path)
    owner = Owner.objects.get()
    letter = Letter.objects.create(owner=owner, language="en", planned_on=DAY, not_before=NOW, state="sent")
    said = Details(email=owner.email, phone="+44 2", address="", language="en", country="GB")
    correct_details(letter, said, on=DAY, now=NOW)
    return letter


def test_the_same_file_again_keeps_the_correction_and_changes_nothing(letter: Letter, tmp_path: Path) -> None:
    result = brought_in(tmp_path)
    assert (result.corrections_kept, result.corrections_overwritten) == (1, 0)
    assert (result.counts["owners"].changed, result.counts["owners"].same) == (0, 1)
    assert Owner.objects.get().phone == "+44 2"
    [warning] = result.warnings.first
    assert (warning.line, warning.column) == (2, "phone")
    assert "kept" in warning.reason


def test_a_newer_word_of_the_house_is_written_and_told(letter: Letter, tmp_path: Path) -> None:
    result = brought_in(tmp_path, phone="+44 3")
    assert (result.corrections_kept, result.corrections_overwritten) == (0, 1)
    owner = Owner.objects.get()
    assert (owner.phone, owner.phone_key) == ("+44 3", "344")
    assert "overwrites" in result.warnings.first[0].reason


def test_a_dry_run_tells_and_writes_nothing(letter: Letter, tmp_path: Path) -> None:
    told, complained = StringIO(), StringIO()
    brought_in(tmp_path, dry_run=True)
    call_command("import_book", str(tmp_path), "--dry-run", stdout=told, stderr=complained)
    assert "1 are kept and 0 overwritten" in complained.getvalue()
    assert Owner.objects.get().phone == "+44 2"


def test_who_stopped_letters_does_not_get_them_again_by_a_file(letter: Letter, tmp_path: Path) -> None:
    stop_letters(letter, on=DAY)
    result = brought_in(tmp_path)
    assert result.corrections_kept == 2
    assert Owner.objects.get().letters is False
    assert brought_in(tmp_path, letters="").corrections_kept == 2
    assert Owner.objects.get().letters is False


def test_a_search_finds_the_kept_telephone(letter: Letter, tmp_path: Path) -> None:
    brought_in(tmp_path, letters="no")  # something else of the row changes, so that it is written
    owner = Owner.objects.get()
    assert (owner.phone, owner.phone_key, owner.letters) == ("+44 2", "244", False)
