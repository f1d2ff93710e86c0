"""Small books in folders for the tests, and the example book of fixtures/."""

import shutil
from datetime import date
from pathlib import Path

from service_center.exchange.actions import ImportResult, import_book

EXAMPLE = Path(__file__).resolve().parent.parent.parent / "fixtures" / "book"
AS_OF = date(2026, 3, 1)
HEADERS = {file.stem: file.read_text(encoding="utf-8").splitlines()[0] for file in EXAMPLE.glob("*.csv")}


def write(folder: Path, stem: str, *rows: str) -> Path:
    """One file with its whole header and some rows."""
    path = folder / f"{stem}.csv"
    path.write_text("\n".join([HEADERS[stem], *rows]) + "\n", encoding="utf-8", newline="")
    return path


def example(folder: Path) -> Path:
    """A copy of the example book that a test may spoil."""
    shutil.copytree(EXAMPLE, folder, dirs_exist_ok=True)
    return folder


def replace(path: Path, old: str, new: str) -> None:
    """Spoil a file."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8", newline="")


def take_in(folder: Path, *, dry_run: bool = False) -> ImportResult:
    """Import a folder as of the tests' day."""
    return import_book(folder, dry_run=dry_run, by=None, as_of=AS_OF)


def faults(result: ImportResult) -> list[str]:
    """The faults as a person reads them."""
    return [str(fault) for fault in result.faults.first]
