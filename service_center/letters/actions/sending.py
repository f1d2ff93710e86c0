"""Handing over what waits. Run by hand, by a worker, by many at once: the letters' rows decide who has what."""

import logging
import os
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from celery.worker import state as worker_state
from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Now

from service_center.letters import compose, journal
from service_center.letters.actions import claiming
from service_center.letters.actions.claiming import Claim
from service_center.letters.doorbell import ring
from service_center.letters.faults import fault
from service_center.letters.models import Letter, Sender
from service_center.letters.returned import provider
from service_center.letters.rules.handing import verdict
from service_center.letters.rules.journal import Gone
from service_center.letters.rules.mornings import end_of
from service_center.letters.rules.return_path import return_path
from service_center.letters.rules.words import LetterState
from service_center.letters.smtp import Line, MailServer, NoLine

logger = logging.getLogger(__name__)

LETTERS_A_CLAIM = 20
LETTERS_A_LINE = 100
# A server that cuts the line this often in a row is ill: the letters wait for the next look.
BROKEN_LINES = 3
# A worker asked to stop is given half a minute: nobody sends longer than this in one go, and rings again instead.
SECONDS_A_TASK = 20.0
SENDER_ROWS_LAST = timedelta(days=1)


@dataclass(slots=True)
class SendResult:
    """What became of the letters of one run; `waiting` is how many wait afterwards, ready or not.

    `trouble`: what kept the house from its mail server, if anything. `more`: letters that are ready were left.
    `not_configured`: the house has no mail server yet, so that letters wait.
    """

    sent: int = 0
    in_doubt: int = 0
    waiting: int = 0
    refused: int = 0
    trouble: str = ""
    more: bool = False
    not_configured: bool = False


def send_waiting(
    *,
    now: datetime,
    as_of: date | None = None,
    until_empty: bool = False,
    may_go_on: Callable[[], bool] = lambda: True,
    on_letter: Callable[[], object] = lambda: None,
    call_help: Callable[[], object] = lambda: None,
) -> SendResult:
    """Hand over letters whose morning has come: one claim's worth, or all that are ready.

    `as_of` stands for today: every letter planned up to that day, and whose morning comes by its end, is ready.
    `may_go_on` is asked between letters; `call_help` is called once when there is more than one sender's handful.
    Never called inside a transaction: each step is written down by itself.
    """
    with transaction.atomic(durable=True):
        _freed, in_doubt = claiming.put_back_the_abandoned()
    result = SendResult(in_doubt=in_doubt)
    if settings.MAIL_CONFIGURED:
        run = _Run(_ready(as_of), as_of or now.date(), now, may_go_on, on_letter, result)
        run.call_help = call_help
        run.go(until_empty=until_empty)
        _note_look(result.trouble)
    else:
        result.not_configured = True
    result.waiting = Letter.objects.filter(state=LetterState.WAITING).count()
    return result


def _ready(as_of: date | None) -> Q:
    if as_of is None:
        return Q(not_before__lte=Now())
    return Q(planned_on__lte=as_of, not_before__lt=end_of(as_of))


class _Run:
    """One sender at work: its line, and what it has counted."""

    def __init__(
        self,
        ready: Q,
        on: date,
        now: datetime,
        may_go_on: Callable[[], bool],
        on_letter: Callable[[], object],
        result: SendResult,
    ) -> None:
        self.ready = ready
        self.on = on
        self.now = now
        self.may_go_on = may_go_on
        self.on_letter = on_letter
        self.result = result
        self.line: Line | None = None
        self.on_this_line = 0
        self.broken_in_a_row = 0
        self.call_help: Callable[[], object] | None = None
        self.began = time.monotonic()

    def go(self, *, until_empty: bool) -> None:
        try:
            while self._one_claim() and until_empty:
                pass
        except NoLine as error:
            self.result.trouble = str(error)
        finally:
            if self.line:
                self.line.close()
        self.result.more = (
            not self.result.trouble and Letter.objects.filter(self.ready, state=LetterState.WAITING).exists()
        )

    def _one_claim(self) -> bool:
        """Claim and hand over once. False when there was nothing, or when this sender is to stop."""
        if not self.may_go_on() or not Letter.objects.filter(self.ready, state=LetterState.WAITING).exists():
            return False
        self._open_line()  # before the claim: a server that is away touches no letter
        taken, claims = claiming.claim(self.ready, by=sender_name(), at_most=LETTERS_A_CLAIM, on=self.on, now=self.now)
        fault("claimed")
        if taken == LETTERS_A_CLAIM and self.call_help:
            self.call_help()
            self.call_help = None
        started = time.monotonic()
        for at, one in enumerate(claims):
            in_time = time.monotonic() - started < settings.LETTER_LEASE_SECONDS / 2
            if not (self.may_go_on() and in_time and self._has_line()):
                claiming.give_back(claims[at:])
                return in_time and self.line is not None and self.may_go_on()
            self._hand_over(one)
            self.on_letter()
        return taken > 0

    def _hand_over(self, one: Claim) -> None:
        if self.line is None:
            return
        try:
            message = _message(one)
        except Exception as error:
            # Whatever a record brought in: the letters behind this one must not wait for it.
            logger.exception("Letter %s could not be written", one.letter)
            claiming.hold(one, f"it could not be written: {type(error).__name__}")
            return
        self.on_this_line += 1
        outcome = self.line.hand_over(
            sender=return_path(one.letter, secret=settings.SECRET_KEY, domain=settings.BOUNCE_DOMAIN),
            recipient=one.to_address,
            message=message,
            before_dot=lambda: claiming.commit_the_dot(one),
        )
        if outcome is None:
            logger.warning("Letter %s was no longer this sender's; nothing was handed over", one.letter)
            return
        judged = verdict(outcome)
        if judged.state is LetterState.SENT:
            journal.append(Gone(one.going, self._moment(), outcome.text))
            fault("journaled")
        self._count(claiming.settle(one, outcome, judged))
        fault("settled")
        self.broken_in_a_row = self.broken_in_a_row + 1 if outcome.code is None else 0

    def _moment(self) -> datetime:
        return self.now + timedelta(seconds=time.monotonic() - self.began)

    def _count(self, state: LetterState) -> None:
        if state is LetterState.SENT:
            self.result.sent += 1
        elif state is LetterState.IN_DOUBT:
            self.result.in_doubt += 1
        elif state is LetterState.REFUSED:
            self.result.refused += 1

    def _has_line(self) -> bool:
        if self.broken_in_a_row >= BROKEN_LINES:
            self.result.trouble = "the mail server cut the line again and again"
            return False
        try:
            self._open_line()
        except NoLine as error:
            self.result.trouble = str(error)
            return False
        return True

    def _open_line(self) -> None:
        if self.line and not self.line.broken and self.on_this_line < LETTERS_A_LINE:
            return
        if self.line:
            self.line.close()
        self.line, self.on_this_line = None, 0
        self.line = Line(MailServer.of_the_house())


def _message(one: Claim) -> bytes:
    fault("composing")
    links = compose.links_for(one.page_token, one.stop_token)
    return compose.letter_as_mail(
        one.content,
        links,
        to_name=one.to_name,
        to_address=one.to_address,
        message_id=one.message_id,
        more=provider.header_for(settings.MAIL_PROVIDER, one.message_id),
    )


def send_for_a_while(*, now: datetime) -> SendResult:
    """What a worker does when it is rung: all that is ready, but no longer than a worker may take to stop.

    Where there is more than a handful it rings once itself, so that a free process of the worker joins in.
    """
    until = time.monotonic() + SECONDS_A_TASK
    return send_waiting(
        now=now,
        until_empty=True,
        may_go_on=lambda: time.monotonic() < until and not worker_is_stopping(),
        call_help=ring,
    )


def worker_is_stopping() -> bool:
    """Whether the worker in whose process this runs was asked to end. An exit code of 0 is an answer too."""
    return any(asked is not None and asked is not False for asked in (worker_state.should_stop, _terminate()))


def _terminate() -> object:
    return worker_state.should_terminate


def sender_name() -> str:
    """Which process and thread has a letter in hand."""
    return f"{socket.gethostname()[:60]}-{os.getpid()}-{threading.get_ident() % 100_000}"


def _note_look(trouble: str) -> None:
    Sender.objects.filter(looked_at__lt=Now() - SENDER_ROWS_LAST).delete()
    Sender.objects.update_or_create(
        name=f"{socket.gethostname()[:60]}-{os.getpid()}", defaults={"looked_at": Now(), "trouble": trouble}
    )
