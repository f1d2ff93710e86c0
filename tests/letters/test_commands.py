"""The commands of outside.md, to the letter."""

import io
import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from service_center.book.models import Piece
from service_center.letters.models import Letter
from tests.factories import OwnerFactory
from tests.letters.sink import MailSink, nobody_listens

Make = Callable[..., Piece]


def run(*arguments: str) -> tuple[str, str]:
    out, err = io.StringIO(), io.StringIO()
    call_command(*arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def test_a_round_prints_what_it_wrote_and_what_it_did_not(due_piece: Make) -> None:
    due_piece()
    silent = due_piece(owner=OwnerFactory(letters=None))
    out, _ = run("daily_round", "--as-of", "2026-03-18", "--json")
    assert json.loads(out) == {
        "reminders": 1,
        "letters": 1,
        "not_written": [{"serial": silent.serial, "reason": "no_consent"}],
    }


def test_a_dry_run_writes_nothing(due_piece: Make) -> None:
    due_piece()
    out, _ = run("daily_round", "--as-of", "2026-03-18", "--dry-run", "--json")
    assert json.loads(out)["letters"] == 1
    assert not Letter.objects.exists()


def test_letters_are_sent_and_listed(due_piece: Make, sink: MailSink) -> None:
    piece = due_piece()
    run("daily_round", "--as-of", "2026-03-18")
    out, _ = run("send_letters", "--until-empty", "--json")
    assert json.loads(out) == {"sent": 1, "in_doubt": 0, "waiting": 0, "refused": 0}
    out, _ = run("list_letters", "--json")
    [record] = json.loads(out)
    letter = Letter.objects.get()
    assert record == {
        "letter": letter.pk,
        "owner": piece.owner.code,
        "state": "sent",
        "message_id": sink.messages[0].message_id,
        "planned_on": "2026-03-18",
        "sent_at": letter.sent_at.isoformat() if letter.sent_at else None,
        "reminders": [{"serial": piece.serial, "kind": "overhaul", "starts_on": "2019-05-17", "step": "invitation"}],
    }
    assert json.loads(run("list_letters", "--state", "in_doubt", "--json")[0]) == []
    assert piece.serial in run("list_letters")[0]


def test_without_a_mail_server_letters_wait_and_nothing_fails(due_piece: Make) -> None:
    due_piece()
    run("daily_round", "--as-of", "2026-03-18")
    out, err = run("send_letters", "--json")
    assert json.loads(out) == {"sent": 0, "in_doubt": 0, "waiting": 1, "refused": 0}
    assert err == "EMAIL_URL is not set: letters wait.\n"


def test_a_server_that_is_away_is_a_failure_that_says_so(due_piece: Make, sink: MailSink, settings: Any) -> None:
    due_piece()
    run("daily_round", "--as-of", "2026-03-18")
    with nobody_listens() as port:
        settings.EMAIL_PORT = port
        with pytest.raises(CommandError, match=f"127.0.0.1:{port}") as failure:
            run("send_letters", "--json")
    assert failure.value.returncode == 1


@pytest.mark.parametrize(
    "arguments",
    [("daily_round", "--as-of", "18.3.2026"), ("list_letters", "--state", "lost"), ("send_letters", "--fast")],
)
def test_unusable_arguments_are_refused(db: None, arguments: tuple[str, ...]) -> None:
    with pytest.raises(CommandError):
        run(*arguments)


@pytest.mark.parametrize("command", ["daily_round", "send_letters", "list_letters"])
def test_help_has_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        call_command(command, "--help")
    assert end.value.code == 0
    assert f"Example:\n  python manage.py {command}" in capsys.readouterr().out
