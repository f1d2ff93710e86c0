"""`after_restore` on a machine that has no journal of its own (design/reliability.md, B3)."""

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from service_center.book.models import Piece
from service_center.letters.models import Letter
from service_center.letters.queries.held_letters import held_since_restore
from service_center.letters.queries.held_rounds import rounds_are_held_after_restore
from tests.letters.conftest import due_piece, round_on

__all__ = ["due_piece"]

Make = Callable[..., Piece]


@pytest.fixture
def without_journal(due_piece: Make, settings: Any, tmp_path: Path) -> Path:
    """A machine that sent nothing; a letter waits on it."""
    settings.DATA_DIR = tmp_path
    due_piece()
    round_on("2026-03-18")
    assert Letter.objects.get().state == "waiting"
    return tmp_path


def run(*arguments: str) -> tuple[dict[str, Any], str]:
    out, err = io.StringIO(), io.StringIO()
    call_command("after_restore", *arguments, "--json", stdout=out, stderr=err)
    told: dict[str, Any] = json.loads(out.getvalue())
    return told, err.getvalue()


def test_a_machine_without_a_sent_journal_holds_all_the_same_and_says_that_none_was_heard(
    without_journal: Path,
) -> None:
    told, said = run()
    assert (told["held"], held_since_restore(), rounds_are_held_after_restore()) == (1, 1, True)
    assert "No sent journal was here or named" in said


def test_so_it_does_where_only_erasures_are_named(without_journal: Path) -> None:
    erased = without_journal / "other.journal"
    erased.touch()
    told, said = run("--erasures", str(erased))
    assert told["held"] == 1
    assert "No sent journal was here or named" in said


def test_its_own_journal_is_heard_where_it_is_there(without_journal: Path) -> None:
    (without_journal / "sent.journal").touch()
    told, said = run()
    assert (told["held"], said) == (1, "")


@pytest.mark.parametrize("named", [["nowhere.journal"], ["--erasures", "nowhere.journal"]])
def test_a_journal_that_was_named_and_is_not_there_is_refused_and_nothing_is_held(
    without_journal: Path, named: list[str]
) -> None:
    with pytest.raises(CommandError, match=r"nowhere\.journal: no such file") as refusal:
        run(*named)
    assert refusal.value.returncode == 2
    assert held_since_restore() == 0
