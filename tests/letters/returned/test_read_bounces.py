"""A folder of what came back, and the command that reads it."""

import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from service_center.book.models import Piece
from service_center.letters.actions import read_returned
from service_center.letters.models import Letter, ReportBox
from tests.letters.conftest import NOW
from tests.letters.returned.reports import (
    delivery_report,
    full,
    out_of_office,
)

Make = Callable[..., Piece]


@pytest.fixture
def maildir(tmp_path: Path) -> Path:
    for name in ("new", "cur", "tmp"):
        (tmp_path / name).mkdir()
    return tmp_path


def test_a_folder_of_messages_is_read_once(sent: Letter, tmp_path: Path) -> None:
    (tmp_path / "one.eml").write_bytes(delivery_report(sent))
    (tmp_path / "two.eml").write_bytes(out_of_office(sent))
    (tmp_path / "notes.txt").write_text("not a message")
    first = read_returned(now=NOW, folder=tmp_path)
    assert {found.value: n for found, n in first.found.items() if n} == {"report": 1, "auto_reply": 1}
    second = read_returned(now=NOW, folder=tmp_path)
    assert (second.known, sum(second.found.values())) == (2, 0)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["notes.txt", "one.eml", "two.eml"]


def test_a_maildir_is_read_in_new_and_cur_and_not_what_is_being_delivered(sent: Letter, maildir: Path) -> None:
    (maildir / "new" / "1.host").write_bytes(delivery_report(sent))
    (maildir / "cur" / "2.host:2,S").write_bytes(out_of_office(sent))
    (maildir / "tmp" / "3.host").write_bytes(delivery_report(sent, number="half"))
    looked = read_returned(now=NOW, folder=maildir)
    assert sum(looked.found.values()) == 2


def test_only_so_much_time_is_spent_and_the_rest_is_read_later(sent: Letter, tmp_path: Path) -> None:
    for day in range(1, 6):
        (tmp_path / f"{day}.eml").write_bytes(full(sent, day))
    left = iter([True, True, False])
    assert sum(read_returned(now=NOW, folder=tmp_path, may_go_on=lambda: next(left)).found.values()) == 2
    assert sum(read_returned(now=NOW, folder=tmp_path).found.values()) == 3


def run(*arguments: str) -> str:
    out = io.StringIO()
    call_command("read_bounces", *arguments, stdout=out)
    return out.getvalue()


def test_the_command_prints_one_document_and_nothing_else(sent: Letter, tmp_path: Path) -> None:
    (tmp_path / "one.eml").write_bytes(delivery_report(sent))
    assert json.loads(run("--folder", str(tmp_path), "--json")) == {
        "report": 1, "no_letter": 0, "auto_reply": 0, "no_report": 0, "unreadable": 0, "stop": 0, "known": 0,
    }  # fmt: skip


def test_the_command_refuses_a_folder_that_is_not_there(db: None, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="no such folder") as refusal:
        run("--folder", str(tmp_path / "none"))
    assert refusal.value.returncode == 2


def test_the_command_says_so_when_nothing_was_named(db: None) -> None:
    with pytest.raises(CommandError, match="BOUNCE_MAILBOX_URL") as refusal:
        run()
    assert refusal.value.returncode == 2


def test_a_folder_that_went_away_is_a_trouble_and_no_error(db: None, settings, tmp_path: Path) -> None:
    settings.BOUNCE_FOLDER = str(tmp_path / "gone")
    looked = read_returned(now=NOW)
    assert "gone" in looked.trouble
    assert ReportBox.objects.get(name="folder").trouble == looked.trouble
