"""What reports prove of a letter in doubt, in whatever order they and our own notes are written."""

from collections.abc import Callable
from datetime import timedelta
from itertools import permutations
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import pytest
from django.db import transaction
from django.db.models.functions import Now
from django.utils import timezone

from service_center.book.models import Piece
from service_center.letters.actions import lost, settling, tick
from service_center.letters.actions.reporting import conclude_what_is_left
from service_center.letters.actions.returning import take_mail
from service_center.letters.models import Letter
from service_center.letters.rules.handing import Outcome, Phase, verdict
from service_center.letters.rules.words import LetterState
from tests.letters.conftest import NOW, only_letter, round_on, send
from tests.letters.returned.reports import come_back, delivery_report
from tests.letters.sink import MailSink

if TYPE_CHECKING:
    from service_center.letters.actions.claiming import Claim

Make = Callable[..., Piece]


@pytest.fixture
def in_doubt(due_piece: Make, sink: MailSink) -> Letter:
    """A letter whose server took it and died before it could say so."""
    due_piece()
    round_on("2026-03-18")
    sink.fail("after", "drop")
    send()
    letter = only_letter()
    assert letter.state == LetterState.IN_DOUBT
    return letter


def test_a_failure_proves_that_a_letter_in_doubt_was_refused(in_doubt: Letter) -> None:
    come_back(delivery_report(in_doubt))
    letter = only_letter()
    assert (letter.state, letter.sent_at) == (LetterState.REFUSED, None)
    assert letter.reason == "settled by what came back"


def test_a_delay_proves_that_a_letter_in_doubt_reached_a_server(in_doubt: Letter) -> None:
    come_back(delivery_report(in_doubt, action="delayed", status="4.4.1"))
    letter = only_letter()
    assert (letter.state, letter.sent_at) == (LetterState.SENT, letter.dot_at)


def test_a_failure_after_a_delay_is_the_last_word(in_doubt: Letter) -> None:
    late = delivery_report(in_doubt, status="4.4.7", number="late")
    delay = delivery_report(in_doubt, action="delayed", status="4.4.1", number="delay")
    ends = set()
    for order in permutations([late, delay]):
        with transaction.atomic():
            for raw in order:
                come_back(raw)
            ends.add(only_letter().state)
            transaction.set_rollback(True)
    assert ends == {LetterState.REFUSED.value}


def test_a_report_that_outruns_our_own_note_of_the_hand_over_changes_nothing(sent: Letter) -> None:
    Letter.objects.update(state=LetterState.AT_THE_DOT, sent_at=None)
    come_back(delivery_report(sent, status="5.2.2"))
    assert only_letter().state == LetterState.AT_THE_DOT
    # The sender notes its 250 now.
    settle_as_taken(sent)
    assert only_letter().state == LetterState.SENT


def test_a_letter_that_falls_into_doubt_after_its_report_is_settled_by_the_sweep(
    sent: Letter, settings: Any, tmp_path: Path
) -> None:
    settings.DATA_DIR = tmp_path  # the machine that knew is gone, with its journal
    Letter.objects.update(state=LetterState.AT_THE_DOT, sent_at=None, lease_until=Now() - timedelta(seconds=1))
    come_back(delivery_report(sent, status="5.2.2"))
    lost.put_back_the_abandoned()
    assert only_letter().state == LetterState.IN_DOUBT
    assert conclude_what_is_left() == 1
    assert only_letter().state == LetterState.REFUSED


def settle_as_taken(letter: Letter) -> None:
    """What a sender writes down once the server says 250, however late."""
    claim = cast("Claim", SimpleNamespace(letter=letter.pk, attempt=letter.attempt, by=letter.claimed_by))
    outcome = Outcome(Phase.DOT, 250, "250 2.0.0 queued")
    settling.settle(claim, outcome, verdict(outcome))


def test_a_late_250_outweighs_what_reports_seemed_to_prove(in_doubt: Letter) -> None:
    delay = delivery_report(in_doubt, action="delayed", status="4.4.1", number="delay")
    failure = delivery_report(in_doubt, status="4.4.7", number="failure")
    deeds = [lambda: come_back(delay), lambda: come_back(failure), lambda: settle_as_taken(in_doubt)]
    ends = set()
    for order in permutations(deeds):
        with transaction.atomic():
            for deed in order:
                deed()
            ends.add(only_letter().state)
            transaction.set_rollback(True)
    assert ends == {LetterState.SENT.value}


def test_the_refusal_of_an_earlier_try_settles_no_later_doubt(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    sink.fail("rcpt", "554 5.7.1 policy")
    send()
    assert only_letter().state == LetterState.REFUSED
    Letter.objects.update(state=LetterState.WAITING)
    sink.fail("after", "drop")
    send()
    assert conclude_what_is_left() == 0
    assert only_letter().state == LetterState.IN_DOUBT
    delay = delivery_report(only_letter(), action="delayed", status="4.4.1", day="")
    take_mail(delay, came_at=timezone.now())
    assert only_letter().state == LetterState.SENT


def test_the_tick_settles_what_fell_into_doubt_after_its_report(sent: Letter, settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path  # the machine that knew is gone, with its journal
    Letter.objects.update(state=LetterState.AT_THE_DOT, sent_at=None, lease_until=Now() - timedelta(seconds=1))
    come_back(delivery_report(sent, status="5.2.2"))
    tick(now=NOW)
    assert only_letter().state == LetterState.REFUSED
