"""One letter against a small model of it: whatever happens to it and in which order, the two agree (F24).

The mail server, the database and the journal are real; only the sender dies within this process (a fault point
raises), so that a run of fifty steps takes moments. SEED and more steps: `python -m tests.faults.long`.
"""

import os
import shutil
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.db import transaction
from django.db.models.functions import Now
from django.test import override_settings
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.letters import faults, journal
from service_center.letters.actions import (
    NotInThatState,
    Settled,
    daily_round,
    go_on,
    hold_waiting,
    lost,
    record_answer,
    release,
    replay,
    send_waiting,
    settle_doubt,
)
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.words import AnswerChoice
from service_center.pieces.actions import record_entry
from tests.factories import PieceFactory, StaffFactory
from tests.faults.checker import id_of
from tests.letters.sink import MailSink

DAY = date(2019, 3, 18)
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
# Where the sender dies, what the letter is then, and whether the server has it and the journal knows.
DEATHS = {
    "claimed": ("handing_over", 0, False),
    "before_dot": ("handing_over", 0, False),
    "at_the_dot": ("at_the_dot", 0, False),
    "after_reply": ("at_the_dot", 1, False),
    "journaled": ("sent", 1, True),
    "settled": ("sent", 1, True),
}
# What the server does at a phase, what the letter is then, and whether the server has it.
ANSWERS = {
    ("mail", "451 4.3.0 not now"): ("resting", 0),
    ("rcpt", "450 4.2.0 busy"): ("resting", 0),
    ("rcpt", "554 5.7.1 no"): ("refused", 0),
    ("data", "drop"): ("resting", 0),
    ("dot", "452 4.3.1 full"): ("resting", 0),
    ("dot", "drop"): ("in_doubt", 0),
    ("after", "drop"): ("in_doubt", 1),
}


class OneLetter(RuleBasedStateMachine):
    """The model is `state` ("resting": waiting, and not yet ready), `there` and `journaled`."""

    sink: MailSink

    @initialize()
    def a_letter_is_written(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.context = override_settings(
            DATA_DIR=self.folder, MAIL_CONFIGURED=True, EMAIL_HOST=self.sink.host, EMAIL_PORT=self.sink.port,
            EMAIL_TIMEOUT=5, MAIL_DOT_SECONDS=5,
        )  # fmt: skip
        self.context.enable()
        self.block = transaction.atomic()
        self.block._from_testcase = True  # type: ignore[attr-defined]  # as Django's own TestCase marks its blocks
        self.block.__enter__()
        self.sink.clear()
        self.piece = PieceFactory(model__rated_bar=None, made_on=None, sold_on=date(2012, 5, 17))
        self.ida = StaffFactory()
        daily_round(as_of=DAY, now=NOW)
        self.letter = Letter.objects.get()
        self.state, self.there, self.journaled = "waiting", 0, False
        self.served = self.pointless = False  # pointless: served, or no more letters: the next claim ends it
        self.decisions = 0  # a person said: once more
        self.backed_up: tuple[dict[str, Any], list[dict[str, Any]], str] | None = None

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.block.__exit__(None, None, None)
        self.context.disable()
        shutil.rmtree(self.folder)

    # --- the sender -------------------------------------------------------------------------------------
    def send(self) -> None:
        send_waiting(now=NOW, until_empty=True)

    def goes(self) -> bool:
        """Whether a sender that looks now hands the letter over; one that has become pointless ends instead."""
        if self.state == "waiting" and self.pointless:
            self.state = "ended"
        return self.state == "waiting"

    @rule()
    def a_sender_looks(self) -> None:
        self.send()
        if self.goes():
            self.state, self.there, self.journaled = "sent", self.there + 1, True

    @precondition(lambda self: self.state == "waiting" and not self.pointless)
    @rule(failing=st.sampled_from(sorted(ANSWERS)))
    def the_server_says_no_or_nothing(self, failing: tuple[str, str]) -> None:
        phase, failure = failing
        self.sink.fail(phase, failure)
        self.send()
        assert self.sink.take_failure(phase) is None, "the sender never came to the phase"
        ends, arrives = ANSWERS[failing]
        self.there += arrives
        # After the last try of many it counts as refused.
        exhausted = ends == "resting" and self.refusals() == 0
        self.state = "refused" if exhausted else ends

    def refusals(self) -> int:
        """How many pauses the letter has had, while it waits; 0 when it waits no more."""
        row = Letter.objects.get(pk=self.letter.pk)
        return row.temporary_refusals if row.state == "waiting" else 0

    @precondition(lambda self: self.state == "waiting" and not self.pointless)
    @rule(point=st.sampled_from(sorted(DEATHS)))
    def a_sender_dies(self, point: str) -> None:
        faults.plan(f"{point}:raise")
        try:
            self.send()
        except faults.InjectedFault:
            pass
        else:
            raise AssertionError(f"{point} was not passed")
        finally:
            faults.plan("")
        self.state, arrives, known = DEATHS[point]
        self.there += arrives
        self.journaled |= known

    @rule()
    def time_passes(self) -> None:
        Letter.objects.filter(lease_until__isnull=False).update(lease_until=Now() - timedelta(seconds=1))
        Letter.objects.filter(state="waiting").update(not_before=Now())
        lost.put_back_the_abandoned()
        passed = {"handing_over": "waiting", "at_the_dot": "in_doubt", "resting": "waiting"}
        self.state = passed.get(self.state, self.state)

    # --- people -----------------------------------------------------------------------------------------
    @rule(how=st.sampled_from(Settled))
    def the_desk_settles_a_doubt(self, how: Settled) -> None:
        try:
            settle_doubt(self.letter, how, by=self.ida, now=NOW)
        except NotInThatState:
            assert self.state != "in_doubt"
        else:
            assert self.state == "in_doubt"
            self.state = "waiting" if how is Settled.SENT_AGAIN else "sent"
            self.decisions += how is Settled.SENT_AGAIN

    @rule()
    def the_desk_lets_it_go(self) -> None:
        try:
            release(self.letter, by=self.ida, now=NOW)
        except NotInThatState:
            assert self.state not in {"held", "refused"}
        else:
            assert self.state in {"held", "refused"}
            # Where a message is there already, the server took it and then said no; or a person knows better.
            self.decisions += self.there > self.decisions
            self.state = "waiting"

    @precondition(lambda self: not self.served)
    @rule()
    def its_piece_is_served(self) -> None:
        record_entry(
            self.piece, done_on=DAY, kind=EntryKind.OVERHAUL, case_opened=True, tightness=Tightness.NOT_TESTED,
            done_by=DoneBy.OWN, accepted=None, note="", by=None, as_of=DAY, form_key=uuid4(),
        )  # fmt: skip
        self.served = self.pointless = True
        self._ends_if_not_out()

    @rule()
    def the_owner_wants_no_more_letters(self) -> None:
        record_answer(
            owner=self.piece.owner, letter=self.letter, piece=None, choice=AnswerChoice.NO_MORE_LETTERS, day=None,
            boutique=None, on=DAY, by=None,
        )  # fmt: skip
        self.pointless = True
        self._ends_if_not_out()

    def _ends_if_not_out(self) -> None:
        if self.state in {"waiting", "resting", "held", "refused"}:  # a refusal reached nobody
            self.state = "ended"

    # --- the operator -----------------------------------------------------------------------------------
    @rule()
    def a_backup_is_made(self) -> None:
        reminders = list(Reminder.objects.values("id", "letter_id", "ended_on", "ended_because"))
        self.backed_up = Letter.objects.values().get(pk=self.letter.pk), reminders, self.state

    @precondition(lambda self: self.backed_up is not None)
    @rule()
    def it_is_brought_back(self) -> None:
        assert self.backed_up
        row, reminders, state = self.backed_up
        Letter.objects.filter(pk=self.letter.pk).update(**row)
        for one in reminders:
            Reminder.objects.filter(pk=one["id"]).update(**one)
        hold_waiting()
        held = {"waiting": "held", "resting": "held", "handing_over": "held", "at_the_dot": "in_doubt"}
        self.state = held.get(state, state)
        if journal.file().exists():
            replay(one for one in journal.read(journal.file()) if not isinstance(one, journal.BadLine))
        if self.journaled:
            self.state = "sent"

    @rule()
    def the_desk_says_go_on(self) -> None:
        go_on(by=self.ida, now=NOW)
        if self.state == "held":
            # What went out without anybody knowing is in doubt, or was: the desk was told, and decides.
            self.decisions += self.there > self.decisions
            self.state = "waiting"

    # --- what must hold ---------------------------------------------------------------------------------
    @invariant()
    def model_and_system_agree(self) -> None:
        found = Letter.objects.get(pk=self.letter.pk).state
        assert found == ("waiting" if self.state == "resting" else self.state)

    @invariant()
    def the_server_has_what_the_model_says(self) -> None:
        there = [id_of(message) for message in self.sink.messages]
        assert len(there) == self.there
        assert len(set(there)) <= 1

    @invariant()
    def no_second_copy_without_a_persons_word(self) -> None:
        assert self.there <= 1 + self.decisions


@pytest.mark.django_db
def test_whatever_happens_to_a_letter_it_is_where_the_model_says() -> None:
    examples, steps = (int(number) for number in os.environ.get("LETTER_MODEL", "40,25").split(","))
    with MailSink() as sink:
        machine = type("OneLetterThere", (OneLetter,), {"sink": sink})
        run_state_machine_as_test(
            machine,
            settings=settings(
                max_examples=examples, stateful_step_count=steps, deadline=None, print_blob=True,
                suppress_health_check=list(HealthCheck),
            ),
        )  # fmt: skip
