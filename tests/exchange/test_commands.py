"""import_book and export_book as outside.md promises them to other programs."""

import json
import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from service_center.book.models import Owner, Piece
from tests.exchange.books import EXAMPLE, example, replace, write

pytestmark = pytest.mark.django_db


def run(*arguments: object) -> tuple[int, str, str]:
    """A command's exit code, stdout and stderr."""
    out, err = StringIO(), StringIO()
    try:
        call_command(*map(str, arguments), stdout=out, stderr=err)
    except CommandError as error:
        return error.returncode, out.getvalue(), f"{err.getvalue()}{error}\n"
    except SystemExit as stop:
        return int(stop.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


def test_an_import_prints_one_json_document_and_nothing_else() -> None:
    code, out, err = run("import_book", EXAMPLE, "--json", "--as-of", "2026-03-01")
    assert (code, err) == (0, "")
    assert json.loads(out) == {
        "calibres": {"added": 3, "changed": 0, "same": 0},
        "models": {"added": 3, "changed": 0, "same": 0},
        "boutiques": {"added": 3, "changed": 0, "same": 0},
        "owners": {"added": 8, "changed": 0, "same": 0},
        "pieces": {"added": 8, "changed": 0, "same": 0},
        "history": {"added": 6, "changed": 0, "same": 0},
        "rules": {"added": 4, "changed": 0, "same": 0},
        "skills": {"added": 4, "changed": 0, "same": 0},
    }
    _, out, _ = run("import_book", EXAMPLE, "--json")
    assert {tuple(counts.items()) for counts in json.loads(out).values()} == {
        (("added", 0), ("changed", 0), ("same", n)) for n in (3, 8, 6, 4)
    }


def test_only_the_files_that_are_there_are_counted(tmp_path: Path) -> None:
    write(tmp_path, "owners", "O-1,Ada Winter,,,,,,")
    assert json.loads(run("import_book", tmp_path, "--json")[1]) == {"owners": {"added": 1, "changed": 0, "same": 0}}


def test_a_dry_run_says_what_would_change_and_writes_nothing() -> None:
    code, out, _ = run("import_book", EXAMPLE, "--dry-run", "--json")
    assert (code, json.loads(out)["pieces"]["added"], Piece.objects.count()) == (0, 8, 0)


@pytest.mark.parametrize("dry_run", [[], ["--dry-run"]])
def test_faults_are_one_line_each_on_stderr_with_exit_code_2(tmp_path: Path, dry_run: list[str]) -> None:
    folder = example(tmp_path)
    replace(folder / "pieces.csv", "2019-05-17", "2024-13-01")
    replace(folder / "owners.csv", "ada.winter@owners.example", '"a@x.example\nb@x.example"')
    code, out, err = run("import_book", folder, "--json", *dry_run)
    assert (code, out) == (2, "")
    assert err == (
        'owners.csv:2:email: "a@x.example\\u000ab@x.example" is not one e-mail address\n'
        'pieces.csv:2:sold_on: "2024-13-01" is not a date (YYYY-MM-DD)\n'
    )
    assert not Owner.objects.exists()


def test_the_first_thousand_faults_are_told_and_the_rest_counted(tmp_path: Path) -> None:
    write(tmp_path, "owners", *(f"O-{n},,,,,,,maybe" for n in range(1_234)))
    code, _, err = run("import_book", tmp_path)
    lines = err.splitlines()
    assert (code, len(lines), lines[-1]) == (2, 1_001, "and 234 more")


def test_warnings_go_to_stderr_and_the_import_goes_on(tmp_path: Path) -> None:
    write(tmp_path, "owners", "O-1,=1+1,,,,,,")
    code, out, err = run("import_book", tmp_path, "--json")
    assert (code, json.loads(out)["owners"]["added"]) == (0, 1)
    assert err == 'warning: owners.csv:2:name: "=1+1" looks like a spreadsheet formula; it is kept as text\n'


def test_unusable_arguments_end_with_2(tmp_path: Path) -> None:
    assert run("import_book", tmp_path / "nowhere") == (2, "", f"{tmp_path}/nowhere is not a folder\n")
    code, out, err = run("import_book", tmp_path)
    assert (code, out) == (2, "")
    assert "holds none of a book's files" in err


def test_a_book_goes_out_and_comes_in_again_without_a_change(tmp_path: Path) -> None:
    run("import_book", EXAMPLE)
    code, out, err = run("export_book", tmp_path / "new" / "folder")
    assert (code, err) == (0, "")
    assert "pieces: 8\n" in out
    counts = json.loads(run("import_book", tmp_path / "new" / "folder", "--json")[1])
    assert all(found["added"] == found["changed"] == 0 for found in counts.values())


def test_an_export_over_another_book_needs_a_word(tmp_path: Path) -> None:
    run("import_book", EXAMPLE)
    folder = example(tmp_path)
    code, out, err = run("export_book", folder)
    assert (code, out) == (2, "")
    assert "add --force" in err
    assert run("export_book", folder, "--force")[0] == 0


@pytest.mark.servers
@pytest.mark.parametrize("command", ["import_book", "export_book"])
def test_help_shows_an_example_and_a_missing_argument_ends_with_2(command: str) -> None:
    def manage(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "manage.py", command, *arguments],
            cwd=settings.BASE_DIR, env=os.environ, capture_output=True, text=True, check=False, timeout=60,
        )  # fmt: skip

    told = manage("--help")
    assert (told.returncode, told.stderr) == (0, "")
    assert f"python manage.py {command} ./book" in told.stdout
    assert manage().returncode == 2
